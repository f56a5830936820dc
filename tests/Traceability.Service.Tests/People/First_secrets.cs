using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;

namespace Traceability.Service.Tests.People;

/// <summary>An installation whose people still have the passwords of the bootstrap file.</summary>
public sealed class First_secrets : IAsyncLifetime
{
    private PlantHost _host = null!;

    public async Task InitializeAsync() => _host = await PlantHost.StartAsGivenAsync();

    public async Task DisposeAsync() => await _host.DisposeAsync();

    private async Task<HttpClient> FirstSignInAsync(Worker worker)
    {
        var http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = _host.Address };
        var person = _host.Credentials.Person(worker.Id);
        (await http.PostAsJsonAsync("/v1/sign-in", new { person = person.Id, password = person.FirstPassword })).EnsureSuccessStatusCode();
        return http;
    }

    private static async Task<(HttpStatusCode, string?)> AnswerAsync(Task<HttpResponseMessage> sent)
    {
        using var answer = await sent;
        var body = answer.Content.Headers.ContentType?.MediaType?.EndsWith("json", StringComparison.Ordinal) == true ? await answer.Content.ReadFromJsonAsync<JsonElement>() : default;
        return (answer.StatusCode, body.ValueKind == JsonValueKind.Object && body.TryGetProperty("type", out var type) ? type.GetString() : null);
    }

    private static (HttpStatusCode, string?) Given => (HttpStatusCode.Forbidden, "/problems/pin-given");

    [Fact]
    public async Task They_sign_no_decision_no_kiosk_and_no_approval_and_the_administrator_changes_nothing_with_them()
    {
        using var engineer = await FirstSignInAsync(Plant.QualityEngineer);
        var pin = _host.Credentials.Person(Plant.QualityEngineer.Id).Pin;
        Assert.Equal(Given, await AnswerAsync(engineer.PostAsJsonAsync("/v1/units/X-1/releases", new { hold = "pour", pin })));
        Assert.Equal(Given, await AnswerAsync(new HttpClient().SendAsync(_host.DeviceRequest(HttpMethod.Post, "/v1/kiosk/sign-on", Plant.Office.Device, JsonContent.Create(new { person = Plant.QualityEngineer.Id, pin })))));
        Assert.Equal(Given.Item2, _host.Services.GetRequiredService<Signing>().Pin(Plant.Inspector.Id, "000000", asker: Plant.QualityEngineer.Id).Problem!.Type);
        using var administrator = await FirstSignInAsync(Plant.Administrator);
        Assert.Equal(Given, await AnswerAsync(administrator.PostAsJsonAsync("/v1/people", new { id = "p-900", displayName = "New", roles = new[] { "yard" } })));
        Assert.Equal(Given, await AnswerAsync(administrator.PostAsJsonAsync("/v1/devices/codes", new { roles = new[] { "yard" } })));

        // Reading goes, and the page of the sign-in leads to where own ones are chosen.
        Assert.Equal(HttpStatusCode.OK, (await engineer.PageAsync("/units")).Status);
        using var visitor = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = _host.Address };
        using var signedIn = await visitor.PostFormAsync("/sign-in", "/sign-in", ("Person", Plant.QualityEngineer.Id), ("password", _host.Credentials.Person(Plant.QualityEngineer.Id).FirstPassword));
        Assert.Equal("/account", signedIn.Headers.Location?.ToString());
    }

    [Fact]
    public async Task They_sign_once_their_owner_chose_others_and_then_the_first_password_is_none()
    {
        var person = _host.Credentials.Person(Plant.QualityEngineer.Id);
        await OwnSecrets.ChooseAsync(_host.Address, person, CancellationToken.None);
        using var engineer = await _host.SignInAsync(Plant.QualityEngineer);
        Assert.NotEqual(Given, await AnswerAsync(engineer.PostAsJsonAsync("/v1/units/X-1/releases", new { hold = "pour", pin = person.Pin })));
        using var http = new HttpClient { BaseAddress = _host.Address };
        Assert.Equal(HttpStatusCode.Unauthorized, (await AnswerAsync(http.PostAsJsonAsync("/v1/sign-in", new { person = person.Id, password = person.FirstPassword }))).Item1);
    }

    [Fact]
    public async Task They_end_unused_after_fourteen_days()
    {
        var register = _host.Services.GetRequiredService<Register>();
        var person = register.Person(Plant.Inspector.Id)!;
        async Task<(HttpStatusCode, string?)> GivenBeforeAsync(double days)
        {
            await register.SaveAsync([register.Give(person, "a first password", TimeProvider.System.GetUtcNow().AddDays(-days))], CancellationToken.None);
            using var http = new HttpClient { BaseAddress = _host.Address };
            return await AnswerAsync(http.PostAsJsonAsync("/v1/sign-in", new { person = person.Id, password = "a first password" }));
        }

        Assert.Equal((HttpStatusCode.OK, null), await GivenBeforeAsync(13.9));
        Assert.Equal((HttpStatusCode.Unauthorized, "/problems/given-expired"), await GivenBeforeAsync(14.1));
    }
}
