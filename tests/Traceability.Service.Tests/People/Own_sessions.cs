using System.Net;
using System.Net.Http.Json;
using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;

namespace Traceability.Service.Tests.People;

/// <summary>Whoever signed in sees where, and ends what is not known; an administrator ends all sessions of a person.</summary>
public sealed partial class Own_sessions : AdministeredPlant
{
    private string PasswordOf(Worker worker) => Host.Credentials.Person(worker.Id).Password;

    private static async Task<bool> RunsAsync(HttpClient http) => (await http.GetAsync(new Uri("/v1/units", UriKind.Relative))).StatusCode == HttpStatusCode.OK;

    private async Task<IReadOnlyList<string>> ListedAsync(HttpClient http) =>
        [.. Line().Matches((await http.PageAsync("/account")).Html).Select(m => PageVisitor.Text(m.Groups[1].Value).Trim())];

    private static async Task<IReadOnlyList<string>> EndableAsync(HttpClient http) => [.. SessionId().Matches((await http.PageAsync("/account")).Html).Select(m => m.Groups[1].Value)];

    [Fact]
    public async Task A_new_sign_in_with_the_cookie_of_an_older_session_ends_the_older_one()
    {
        using var client = new HttpClient(new HttpClientHandler { UseCookies = false, AllowAutoRedirect = false }) { BaseAddress = Host.Address };
        async Task<string> SignInAsync(string? with)
        {
            using var request = new HttpRequestMessage(HttpMethod.Post, "/v1/sign-in") { Content = JsonContent.Create(new { person = Plant.QualityEngineer.Id, password = PasswordOf(Plant.QualityEngineer) }) };
            if (with is not null) request.Headers.Add("Cookie", with);
            using var answer = await client.SendAsync(request);
            return answer.Headers.GetValues("Set-Cookie").Single().Split(';')[0];
        }

        async Task<HttpStatusCode> AskAsync(string cookie)
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, "/v1/units");
            request.Headers.Add("Cookie", cookie);
            return (await client.SendAsync(request)).StatusCode;
        }

        var (first, elsewhere) = (await SignInAsync(null), await SignInAsync(null));
        var second = await SignInAsync(first);
        Assert.Equal((HttpStatusCode.Unauthorized, HttpStatusCode.OK, HttpStatusCode.OK), (await AskAsync(first), await AskAsync(second), await AskAsync(elsewhere)));
    }

    [Fact]
    public async Task A_person_sees_the_own_sessions_and_ends_one_with_the_password_and_not_without_nor_anothers()
    {
        using var desk = await Host.SignInAsync(Plant.QualityEngineer);
        using var tablet = await Host.SignInAsync(Plant.QualityEngineer);
        using var inspector = await Host.SignInAsync(Plant.Inspector);
        var listed = await ListedAsync(desk);
        Assert.Equal(2, listed.Count);
        Assert.StartsWith("A program this browser, since", listed[0], StringComparison.Ordinal);
        Assert.Contains("last used", listed[1], StringComparison.Ordinal);

        var session = Assert.Single(await EndableAsync(desk));
        Task<HttpResponseMessage> EndAsync(HttpClient http, Worker worker, string password) => http.PostFormAsync("/account", "/account?handler=EndSession", ("id", worker.Id), ("session", session), ("password", password));
        Assert.Equal(HttpStatusCode.Unauthorized, (await EndAsync(desk, Plant.QualityEngineer, "not this")).StatusCode);
        Assert.Equal(HttpStatusCode.Conflict, (await EndAsync(inspector, Plant.Inspector, PasswordOf(Plant.Inspector))).StatusCode);
        Assert.True(await RunsAsync(tablet));
        using var ended = await EndAsync(desk, Plant.QualityEngineer, PasswordOf(Plant.QualityEngineer));
        Assert.Contains("Signed out there.", await ended.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal((true, false), (await RunsAsync(desk), await RunsAsync(tablet)));
        Assert.Single(await ListedAsync(desk));
    }

    [Fact]
    public async Task All_others_end_in_every_process_and_the_one_that_asks_goes_on()
    {
        using var desk = await Host.SignInAsync(Plant.QualityEngineer);
        var others = new[] { await Host.SignInAsync(Plant.QualityEngineer), await Host.SignInAsync(Plant.QualityEngineer) };
        await Host.AddAsync("web");
        using var elsewhere = await Host.SignInAsync(Plant.QualityEngineer);
        using var ended = await desk.PostFormAsync("/account", "/account?handler=EndOthers", ("id", Plant.QualityEngineer.Id), ("password", PasswordOf(Plant.QualityEngineer)));
        Assert.Contains("Signed out of 3 other sessions.", await ended.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        await PlantHost.EventuallyAsync(async () => !await RunsAsync(elsewhere), "the other process knows", 10);
        Assert.True(await RunsAsync(desk));
        foreach (var other in others)
        {
            Assert.False(await RunsAsync(other));
            other.Dispose();
        }
    }

    [Fact]
    public async Task An_administrator_ends_all_sessions_of_a_person_and_password_and_pin_stay()
    {
        using var desk = await Host.SignInAsync(Plant.YardForeman);
        using var other = await Host.SignInAsync(Plant.Inspector);
        var kiosk = Host.Services.GetRequiredService<SignOnTokens>().Issue(Host.Services.GetRequiredService<Register>().Person(Plant.YardForeman.Id)!, Plant.Yard.Device);
        using var page = await Administrator.PostFormAsync("/people", "/people?handler=EndSessions", ("id", Plant.YardForeman.Id), ("pin", Host.Credentials.Person(Plant.Administrator.Id).Pin));
        Assert.Contains("is signed out everywhere", await page.Content.ReadAsStringAsync(), StringComparison.Ordinal);

        Assert.Equal((false, true), (await RunsAsync(desk), await RunsAsync(other)));
        Assert.Empty(Host.Services.GetRequiredService<SignOnTokens>().Proved([kiosk], Plant.Yard.Device));
        using var again = await Host.SignInAsync(Plant.YardForeman);
        Assert.Single(await ListedAsync(again));
        Assert.Equal(1, await Host.ScalarAsync($"select count(*) from trace.record where type = 'person.sessions-ended.v1' and person = '{Plant.Administrator.Id}'"));
    }

    [Fact]
    public async Task Of_too_many_sessions_of_one_person_the_oldest_ends()
    {
        using var oldest = await Host.SignInAsync(Plant.Dispatcher);
        var more = new List<HttpClient>();
        for (var i = 1; i < Sessions.Most; i++) more.Add(await Host.SignInAsync(Plant.Dispatcher));
        Assert.True(await RunsAsync(oldest));
        more.Add(await Host.SignInAsync(Plant.Dispatcher));
        Assert.False(await RunsAsync(oldest));
        Assert.True(await RunsAsync(more[0]));
        Assert.Equal(Sessions.Most, (await ListedAsync(more[^1])).Count);
        more.ForEach(m => m.Dispose());
    }

    [Theory]
    [InlineData("Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Safari/537.36 Edg/140.0.0.0", "Edge on Windows")]
    [InlineData("Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Mobile Safari/537.36", "Chrome on Android")]
    [InlineData("Mozilla/5.0 (iPad; CPU OS 18_0 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.0 Mobile/15E148 Safari/604.1", "Safari on iPad")]
    [InlineData("Mozilla/5.0 (X11; Linux x86_64; rv:143.0) Gecko/20100101 Firefox/143.0", "Firefox on Linux")]
    [InlineData("<script>alert(1)</script>", "A program")]
    [InlineData(null, "A program")]
    public void A_browser_is_called_what_its_owner_knows_it_by(string? userAgent, string words) => Assert.Equal(words, BrowserWords.Of(userAgent));

    [GeneratedRegex("<div class=\"linehead\">(.*?)</div>", RegexOptions.Singleline)]
    private static partial Regex Line();

    [GeneratedRegex("name=\"session\" value=\"([0-9a-f]+)\"")]
    private static partial Regex SessionId();
}
