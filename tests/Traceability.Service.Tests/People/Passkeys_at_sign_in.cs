using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Microsoft.AspNetCore.WebUtilities;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;

namespace Traceability.Service.Tests.People;

/// <summary>What holds of passkeys without a browser; with one they are tried in the browser tier.</summary>
public sealed class Passkeys_at_sign_in
{
    private static Task<PlantHost> StartAsync(bool required) => PlantHost.StartAsync(false, ["web"], "--Passkeys:Domain=localhost", $"--Passkeys:Required={required}");

    private static async Task<(HttpStatusCode Status, string? Type)> PostAsync(HttpClient http, string path, object body)
    {
        using var answer = await http.PostAsJsonAsync("/v1/" + path, body);
        var json = await answer.Content.ReadFromJsonAsync<JsonElement>();
        return (answer.StatusCode, json.TryGetProperty("type", out var type) ? type.GetString() : null);
    }

    private static async Task AddPasskeyAsync(PlantHost host, Worker worker, string domain = "localhost")
    {
        var register = host.Services.GetRequiredService<Register>();
        await register.SaveAsync([register.Person(worker.Id)! with { Passkeys = [new Passkey("AAAA", "AAAA", "stick", DateTimeOffset.UnixEpoch, domain)] }], CancellationToken.None);
    }

    [Theory]
    [InlineData("", "true", "Passkeys:Domain is not")]
    [InlineData("10.0.0.4", "false", "not a host name")]
    [InlineData("https://trace.plant.example", "false", "not a host name")]
    public void Settings_that_no_browser_could_follow_stop_the_start(string domain, string required, string said) =>
        Assert.Contains(said, Assert.Throws<SettingException>(() => PasskeySettings.Of(new ConfigurationBuilder().AddInMemoryCollection([new("Passkeys:Domain", domain), new("Passkeys:Required", required)]).Build())).Message, StringComparison.Ordinal);

    [Fact]
    public async Task Where_they_are_required_who_decides_or_administers_reads_with_the_password_and_does_nothing_else_and_others_work_on()
    {
        await using var host = await StartAsync(required: true);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        Assert.Equal(HttpStatusCode.OK, (await engineer.PageAsync("/units")).Status);
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/passkey-needed"), await PostAsync(engineer, "units/X-1/releases", new { hold = "pour", pin = host.Credentials.Person(Plant.QualityEngineer.Id).Pin }));
        using var administrator = await host.SignInAsync(Plant.Administrator);
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/passkey-needed"), await PostAsync(administrator, "devices/codes", new { roles = new[] { "yard" } }));
        // The author of a record may correct it; what stands in the way is the record that nobody knows.
        using var yard = await host.SignInAsync(Plant.YardForeman);
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(yard, "records/corrections", new { record = Guid.NewGuid(), replacedVersion = 1, data = new { }, reason = "tried", pin = host.Credentials.Person(Plant.YardForeman.Id).Pin })).Status);
    }

    [Fact]
    public async Task Who_has_one_signs_in_with_the_password_alone_nowhere()
    {
        await using var host = await StartAsync(required: false);
        await AddPasskeyAsync(host, Plant.QualityEngineer);
        var person = host.Credentials.Person(Plant.QualityEngineer.Id);
        using var http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = host.Address };
        Assert.Equal((HttpStatusCode.Unauthorized, "/problems/passkey-needed"), await PostAsync(http, "sign-in", new { person = person.Id, password = person.Password }));
        // Under an address passkeys do not work, and the page says under which name they do.
        using var page = await http.PostFormAsync("/sign-in", "/sign-in", ("Person", person.Id), ("password", person.Password));
        Assert.Equal(HttpStatusCode.Forbidden, page.StatusCode);
        Assert.Contains("only works at localhost", await page.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.False(page.Headers.Contains("Set-Cookie") && page.Headers.GetValues("Set-Cookie").Any(c => c.StartsWith("trace-session", StringComparison.Ordinal)));
    }

    [Fact]
    public async Task A_passkey_of_another_name_is_asked_of_nobody_and_is_none_where_one_is_required()
    {
        await using var host = await StartAsync(required: true);
        await AddPasskeyAsync(host, Plant.QualityEngineer, "old.example");
        var person = host.Credentials.Person(Plant.QualityEngineer.Id);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/passkey-needed"), await PostAsync(engineer, "units/X-1/releases", new { hold = "pour", pin = person.Pin }));
    }

    [Fact]
    public void One_that_was_kept_without_its_name_still_counts_and_reads_from_a_copy()
    {
        var kept = System.Text.Json.JsonSerializer.Deserialize<Passkey>("""{"Id":"AAAA","PublicKey":"AAAA","Name":"stick","AddedAt":"2026-01-01T00:00:00+00:00"}""",
            new System.Text.Json.JsonSerializerOptions { RespectNullableAnnotations = true, RespectRequiredConstructorParameters = true })!;
        var person = new Person { Id = "p-1", DisplayName = "Somebody", PasswordHash = "", PinHash = "", Roles = [Traceability.Core.Events.Roles.QualityEngineer], Passkeys = [kept] };
        Assert.True(new PasskeySettings("trace.plant.example", true).Asks(person));
        Assert.False(new PasskeySettings("trace.plant.example", true).Demands(person));
        Assert.False(new PasskeySettings(null, false).Asks(person));
    }

    [Fact]
    public async Task Another_pin_takes_the_pin_in_use_and_a_passkey_both_secrets()
    {
        await using var host = await StartAsync(required: false);
        var person = host.Credentials.Person(Plant.Inspector.Id);
        using var http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = new UriBuilder(host.Address) { Host = "localhost" }.Uri };
        (await http.PostAsJsonAsync("/v1/sign-in", new { person = person.Id, password = person.Password })).EnsureSuccessStatusCode();
        foreach (var pin in new[] { null, "", "000000" })
            Assert.Equal((HttpStatusCode.Forbidden, "/problems/pin"), await PostAsync(http, $"people/{person.Id}/own-secrets", new { password = person.Password, newPin = "27182818", pin }));
        using var wrong = await http.PostFormAsync("/account", "/account?handler=BeginPasskey", ("id", person.Id), ("password", person.Password), ("pin", "000000"));
        Assert.Equal(HttpStatusCode.Forbidden, wrong.StatusCode);
        using var right = await http.PostFormAsync("/account", "/account?handler=BeginPasskey", ("id", person.Id), ("password", person.Password), ("pin", person.Pin));
        Assert.Contains("Make the passkey", await right.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.OK, (await PostAsync(http, $"people/{person.Id}/own-secrets", new { password = person.Password, newPin = "27182818", pin = person.Pin })).Status);
    }

    [Theory]
    [InlineData("")]
    [InlineData("{}")]
    [InlineData("[]")]
    [InlineData("{\"id\":\"AAAA\",\"rawId\":\"AAAA\",\"type\":\"public-key\",\"response\":{}}")]
    [InlineData("{\"id\":\"AAAA\",\"rawId\":\"AAAA\",\"type\":\"public-key\",\"response\":{\"authenticatorData\":\"AAAA\",\"signature\":\"AAAA\",\"clientDataJSON\":\"e30\"}}")]
    [InlineData("challenge")]
    public async Task An_answer_that_was_made_up_is_refused_in_words_and_opens_nothing(string answer)
    {
        await using var host = await StartAsync(required: false);
        await AddPasskeyAsync(host, Plant.QualityEngineer);
        var person = host.Credentials.Person(Plant.QualityEngineer.Id);
        using var http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = new UriBuilder(host.Address) { Host = "localhost" }.Uri };
        using var asked = await http.PostFormAsync("/sign-in", "/sign-in", ("Person", person.Id), ("password", person.Password));
        Assert.Contains("The password is right", await asked.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        if (answer == "challenge")
        {
            // The right question, and a signature by nobody.
            await using var kept = host.Database.CreateCommand("select challenge from trace.passkey_challenge");
            var data = JsonSerializer.SerializeToUtf8Bytes(new { type = "webauthn.get", challenge = (string)(await kept.ExecuteScalarAsync())!, origin = http.BaseAddress!.GetLeftPart(UriPartial.Authority) });
            answer = JsonSerializer.Serialize(new { id = "AAAA", rawId = "AAAA", type = "public-key", response = new { authenticatorData = WebEncoders.Base64UrlEncode(new byte[37]), signature = "AAAA", clientDataJSON = WebEncoders.Base64UrlEncode(data), userHandle = WebEncoders.Base64UrlEncode(Encoding.UTF8.GetBytes(person.Id)) } });
        }

        using var refused = await http.PostFormAsync("/sign-in", "/sign-in?handler=Passkey", ("answer", answer));
        Assert.Equal(HttpStatusCode.Unauthorized, refused.StatusCode);
        Assert.Contains("Not signed in.", await refused.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.False(refused.Headers.TryGetValues("Set-Cookie", out var cookies) && cookies.Any(c => c.StartsWith("trace-session", StringComparison.Ordinal)));
    }
}
