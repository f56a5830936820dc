using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Commands;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.People;

/// <summary>Who decides is let in by two: an administrator gives the role or the first password, a second person asks the owner and confirms.</summary>
public sealed class Roles_by_two : AdministeredPlant
{
    private const string Password = "wet gravel at seven", Pin = "31415926";

    private string PinOf(Worker worker) => Host.Credentials.Person(worker.Id).Pin;

    private static async Task<(HttpStatusCode Status, string? Type, JsonElement Answer)> PostAsync(HttpClient http, string path, object body)
    {
        using var answer = await http.PostAsJsonAsync("/v1/" + path, body);
        var json = await answer.Content.ReadFromJsonAsync<JsonElement>();
        return (answer.StatusCode, json.TryGetProperty("type", out var type) ? type.GetString() : null, json);
    }

    private async Task<HttpClient> SignInAsync(string person, string password)
    {
        var http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = Host.Address };
        (await http.PostAsJsonAsync("/v1/sign-in", new { person, password })).EnsureSuccessStatusCode();
        return http;
    }

    private async Task<HttpClient> ChosenAsync(string person, string first, string password = Password, string pin = Pin)
    {
        await OwnSecrets.ChooseAsync(Host.Address, new PersonCredential(person, person, pin, password, first, []), CancellationToken.None);
        return await SignInAsync(person, password);
    }

    private static Task<(HttpStatusCode Status, string? Type, JsonElement Answer)> ReleaseAsync(HttpClient http, string pin = Pin) => PostAsync(http, "units/X-1/releases", new { hold = "pour", pin });

    // As the list of those who wait tells it to a second person.
    private async Task<string> AskedOfAsync(string person)
    {
        using var engineer = await Host.SignInAsync(Plant.QualityEngineer);
        var waiting = await engineer.GetFromJsonAsync<JsonElement>("/v1/people/waiting");
        return waiting.EnumerateArray().FirstOrDefault(p => p.GetProperty("id").GetString() == person) is { ValueKind: JsonValueKind.Object } known ? known.GetProperty("asked").GetString()! : "nobody";
    }

    private Task<long> RecordsAsync(string type) => Host.ScalarAsync($"select count(*) from trace.record where type = '{type}'");

    [Fact]
    public async Task An_administrator_alone_lets_nobody_in_who_decides()
    {
        var (status, _, given) = await PostAsync(Administrator, "people", new { id = "p-120", displayName = "Second inspector", roles = new[] { "plant-inspector" } });
        Assert.Equal(HttpStatusCode.Created, status);
        Assert.Equal(["plant-inspector"], given.GetProperty("waitingRoles").EnumerateArray().Select(r => r.GetString()));
        Assert.Equal(0, given.GetProperty("roles").GetArrayLength());
        using var engineer = await Host.SignInAsync(Plant.QualityEngineer);
        async Task<(HttpStatusCode Status, string? Type, JsonElement Answer)> ConfirmAsync(HttpClient http, string pin) => await PostAsync(http, "people/p-120/confirmation", new { asked = await AskedOfAsync("p-120"), pin });

        // Somebody else still knows the first password.
        var early = await ConfirmAsync(engineer, PinOf(Plant.QualityEngineer));
        Assert.Equal((HttpStatusCode.Conflict, "/problems/not-chosen"), (early.Status, early.Type));
        using var inspector = await ChosenAsync("p-120", given.GetProperty("password").GetString()!);
        Assert.Equal("/problems/second-person", (await ReleaseAsync(inspector)).Type);
        Assert.Equal(HttpStatusCode.OK, (await inspector.GetAsync(new Uri("/units", UriKind.Relative))).StatusCode);

        foreach (var (who, pin) in new[] { (Administrator, PinOf(Plant.Administrator)), (inspector, Pin), (engineer, "000000") })
            Assert.Equal(HttpStatusCode.Forbidden, (await ConfirmAsync(who, pin)).Status);
        using var laboratory = await Host.SignInAsync(Plant.StrengthTechnician);
        Assert.Equal(HttpStatusCode.Forbidden, (await ConfirmAsync(laboratory, PinOf(Plant.StrengthTechnician))).Status);
        Assert.Equal(0, await RecordsAsync("person.roles-confirmed.v1"));

        Assert.Equal(HttpStatusCode.OK, (await ConfirmAsync(engineer, PinOf(Plant.QualityEngineer))).Status);
        Assert.Equal(1, await RecordsAsync("person.roles-confirmed.v1"));
        Assert.Equal("/problems/nothing-waits", (await ConfirmAsync(engineer, PinOf(Plant.QualityEngineer))).Type);
        // The session of before ended with the change. What stands in the way now is the hold.
        using var confirmed = await SignInAsync("p-120", Password);
        Assert.Equal(HttpStatusCode.Conflict, (await ReleaseAsync(confirmed)).Status);
    }

    [Fact]
    public async Task A_yes_to_what_was_shown_before_a_new_password_or_another_role_confirms_nothing()
    {
        var (_, _, given) = await PostAsync(Administrator, "people", new { id = "p-121", displayName = "Third inspector", roles = new[] { "second-approver" } });
        using var owner = await ChosenAsync("p-121", given.GetProperty("password").GetString()!);
        var asked = await AskedOfAsync("p-121");
        // The owner said yes; then the administrator takes the account, and the role becomes another.
        var (_, _, again) = await PostAsync(Administrator, "people/p-121/secrets", new { pin = PinOf(Plant.Administrator) });
        using var taken = await ChosenAsync("p-121", again.GetProperty("password").GetString()!, "dry gravel at eight", "27182818");
        using var engineer = await Host.SignInAsync(Plant.QualityEngineer);
        var confirmed = await PostAsync(engineer, "people/p-121/confirmation", new { asked, pin = PinOf(Plant.QualityEngineer) });
        Assert.Equal((HttpStatusCode.Conflict, "/problems/changed-meanwhile"), (confirmed.Status, confirmed.Type));
        asked = await AskedOfAsync("p-121");
        await PostAsync(Administrator, "people/p-121/roles", new { roles = new[] { "quality-engineer" }, pin = PinOf(Plant.Administrator) });
        Assert.Equal("/problems/changed-meanwhile", (await PostAsync(engineer, "people/p-121/confirmation", new { asked, pin = PinOf(Plant.QualityEngineer) })).Type);
        Assert.Equal(0, await RecordsAsync("person.roles-confirmed.v1"));
    }

    [Fact]
    public async Task A_change_that_was_begun_before_roles_ended_does_not_bring_them_back()
    {
        var register = Host.Services.GetRequiredService<Register>();
        var before = register.Person(Plant.DeputyEngineer.Id)!;
        var authority = Host.Services.GetRequiredService<Authority>();
        await PostAsync(Administrator, $"people/{Plant.DeputyEngineer.Id}/lapse", new { pin = PinOf(Plant.Administrator) });
        Assert.False(await authority.ChangeAsync(before with { Stamp = "later" }, before.Stamp, new SecretChosen(before.Id, false, true), before.Id, Authority.Password, CancellationToken.None));
        Assert.NotNull(register.Person(Plant.DeputyEngineer.Id)!.LapsedAt);
        Assert.Equal(0, await RecordsAsync("secret.chosen.v1"));
    }

    [Fact]
    public async Task Who_is_written_into_the_file_of_first_people_later_waits_as_anybody_does()
    {
        var file = Path.Combine(Host.Folder, "later.json");
        await File.WriteAllTextAsync(file, JsonSerializer.Serialize(new { devices = Array.Empty<object>(), people = new[] { new { id = "p-130", displayName = "Slipped in", password = "a first password", roles = new[] { "quality-engineer", "laboratory" } } } }));
        await Host.AddAsync("web", $"--People:BootstrapFile={file}");
        var person = Host.Services.GetRequiredService<Register>();
        await PlantHost.EventuallyAsync(() => Task.FromResult(person.Person("p-130") is not null), "the register has the person");
        Assert.Equal(["laboratory"], person.Person("p-130")!.Roles);
        Assert.Equal(["quality-engineer"], person.Person("p-130")!.WaitingRoles);
    }

    [Fact]
    public async Task Who_gives_a_quality_engineer_a_new_first_password_and_signs_in_with_it_first_decides_nothing()
    {
        var (status, _, given) = await PostAsync(Administrator, $"people/{Plant.DeputyEngineer.Id}/secrets", new { pin = PinOf(Plant.Administrator) });
        Assert.Equal(HttpStatusCode.OK, status);
        using var taken = await ChosenAsync(Plant.DeputyEngineer.Id, given.GetProperty("password").GetString()!);
        Assert.Equal("/problems/second-person", (await ReleaseAsync(taken)).Type);
        // Nor as the second person beside the quality engineer, nor at a kiosk.
        using var engineer = await Host.SignInAsync(Plant.QualityEngineer);
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(engineer, "decisions/overrides", new { unit = "X-1", hold = "pour", reason = "tried", pin = PinOf(Plant.QualityEngineer), secondApprover = Plant.DeputyEngineer.Id, secondPin = Pin })).Status);
        using var kiosk = new HttpClient();
        using var signOn = await kiosk.SendAsync(Host.DeviceRequest(HttpMethod.Post, "/v1/kiosk/sign-on", Plant.Office.Device, JsonContent.Create(new { person = Plant.DeputyEngineer.Id, pin = Pin })));
        Assert.Equal(HttpStatusCode.Forbidden, signOn.StatusCode);

        Assert.Equal(HttpStatusCode.OK, (await PostAsync(engineer, $"people/{Plant.DeputyEngineer.Id}/refusal", new { reason = "did not choose it", pin = PinOf(Plant.QualityEngineer) })).Status);
        using var http = new HttpClient { BaseAddress = Host.Address };
        Assert.Equal(HttpStatusCode.Unauthorized, (await PostAsync(http, "sign-in", new { person = Plant.DeputyEngineer.Id, password = Password })).Status);
        Assert.Equal(1, await RecordsAsync("person.roles-refused.v1"));
    }

    [Fact]
    public async Task A_role_that_decides_waits_beside_those_that_do_not_and_these_hold_at_once()
    {
        var (_, _, changed) = await PostAsync(Administrator, $"people/{Plant.Receiver.Id}/roles", new { roles = new[] { "receiving", "second-approver" }, pin = PinOf(Plant.Administrator) });
        Assert.Equal(["receiving"], changed.GetProperty("roles").EnumerateArray().Select(r => r.GetString()));
        using var receiver = await Host.SignInAsync(Plant.Receiver);
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(receiver, "people/p-999/confirmation", new { asked = "x", pin = PinOf(Plant.Receiver) })).Status);
        using var engineer = await Host.SignInAsync(Plant.QualityEngineer);
        Assert.Equal(HttpStatusCode.OK, (await PostAsync(engineer, $"people/{Plant.Receiver.Id}/confirmation", new { asked = await AskedOfAsync(Plant.Receiver.Id), pin = PinOf(Plant.QualityEngineer) })).Status);
        using var named = await Host.SignInAsync(Plant.Receiver);
        // One whom the plant named is a second person now.
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(named, "people/p-999/confirmation", new { asked = "x", pin = PinOf(Plant.Receiver) })).Status);
        // Roles that were confirmed stay when others are given beside them.
        (_, _, changed) = await PostAsync(Administrator, $"people/{Plant.Receiver.Id}/roles", new { roles = new[] { "receiving", "shipping", "second-approver" }, pin = PinOf(Plant.Administrator) });
        Assert.Equal(0, changed.GetProperty("waitingRoles").GetArrayLength());
        // Ended and given again, they wait again.
        await PostAsync(Administrator, $"people/{Plant.Receiver.Id}/lapse", new { pin = PinOf(Plant.Administrator) });
        (_, _, changed) = await PostAsync(Administrator, $"people/{Plant.Receiver.Id}/roles", new { roles = new[] { "receiving", "second-approver" }, pin = PinOf(Plant.Administrator) });
        Assert.Equal(["second-approver"], changed.GetProperty("waitingRoles").EnumerateArray().Select(r => r.GetString()));
    }

    [Fact]
    public async Task Where_no_second_person_is_left_the_machine_confirms_and_everybody_sees_it()
    {
        var (_, _, given) = await PostAsync(Administrator, $"people/{Plant.DeputyEngineer.Id}/secrets", new { pin = PinOf(Plant.Administrator) });
        Assert.Equal(ExitCodes.Wrong, (await RunAsync("--reason", "nobody is left", "--yes")).Exit);
        using var chosen = await ChosenAsync(Plant.DeputyEngineer.Id, given.GetProperty("password").GetString()!);
        Assert.Equal(ExitCodes.Called, (await RunAsync("--reason", "nobody is left")).Exit);
        Assert.Equal(ExitCodes.Called, (await RunAsync("--reason", " ", "--yes")).Exit);
        Assert.Equal(0, await RecordsAsync("person.roles-confirmed.v1"));

        var confirmed = await RunAsync("--reason", "nobody is left", "--yes");
        Assert.True(confirmed.Exit == ExitCodes.Done, confirmed.Error);
        HttpClient? engineer = null;
        await PlantHost.EventuallyAsync(async () => (await ReleaseAsync(engineer = await SignInAsync(Plant.DeputyEngineer.Id, Password))).Status == HttpStatusCode.Conflict, "the role holds");
        Assert.Contains("on the machine: nobody is left", WebUtility.HtmlDecode(await engineer!.GetStringAsync(new Uri("/integrity", UriKind.Relative))), StringComparison.Ordinal);
        using var ready = JsonDocument.Parse(await engineer.GetStringAsync(new Uri("/health/ready", UriKind.Relative)));
        Assert.Equal("Degraded", ready.RootElement.GetProperty("checks").GetProperty("recoveries").GetProperty("status").GetString());
    }

    private async Task<(int Exit, string Error)> RunAsync(params string[] args)
    {
        using var error = new StringWriter();
        var exit = await CommandLine.RunAsync(["people", "confirm", Plant.DeputyEngineer.Id, .. args], new Terminal(TextReader.Null, TextWriter.Null, error,
            [$"--ConnectionStrings:Postgres={Host.ConnectionString}", $"--Signer:Folder={Path.Combine(Host.Folder, "signer")}", "--Signer:Origin=test.example/log", $"--Plant:TimeZone={PlantStory.Zone}"]));
        return (exit, error.ToString());
    }

    [Fact]
    public void Whoever_may_say_yes_as_the_second_person_got_the_role_from_two()
    {
        Assert.Empty(Roles.All.Where(r => WhoMay.ApprovesSecond([r])).Except(Roles.Deciding));
    }
}
