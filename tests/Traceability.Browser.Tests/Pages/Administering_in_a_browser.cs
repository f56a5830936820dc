using System.Text.Json;
using Microsoft.Playwright;
using Npgsql;
using Traceability.Browser.Tests.Hosting;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;

namespace Traceability.Browser.Tests.Pages;

/// <summary>What an administrator, and everybody for the own account, presses besides decisions on units; clicked in a real Chromium.</summary>
[Collection(PagesCollection.Name)]
public sealed class Administering_in_a_browser(CastPlant cast) : PagesTest(cast)
{
    private static CloudEvent Oiled(string id, string person) => CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id, source = "/plant/form-1", type = "form.oiled.v1", time = TimeProvider.System.GetUtcNow().AddHours(-1).ToString("O"), datacontenttype = "application/json", person,
        data = new { form = "PG-FORM-1", unit = CastPlant.Key + "RF-0012", releaseAgent = "Water-based release agent" },
    }));

    [Fact]
    public async Task A_held_back_entry_is_cleared_by_the_administrator_and_counts()
    {
        // A cage foreman does not oil forms: the entry is kept, and does not count.
        var fact = Oiled("held-back-1", Plant.CageForeman.Id);
        using (var stations = new ServiceClient(Running.Address, Running.Credentials)) await stations.SendAsync(Plant.FormHall.Device, [fact], CancellationToken.None);
        await RunningPlant.EventuallyAsync(async () => (await Running.RowsAsync($"select count(*) from trace.quarantine where id = '{fact.RecordId}'"))[0][0] == "1", "the entry is held back");
        var page = await SignInAsync(Plant.Administrator);
        await page.GetByRole(AriaRole.Link, new() { Name = "Held-back entries" }).ClickAsync();
        await PictureAsync(page, "held-back");

        await page.GetByRole(AriaRole.Button, new() { Name = "Clear form oiled held-back-1", Exact = false }).ClickAsync();

        await page.Locator("main [role=status]", new() { HasText = "it counts from now on" }).WaitForAsync();
        Assert.Equal("1", (await Running.RowsAsync($"select count(*) from trace.record where id = '{fact.RecordId}'"))[0][0]);
    }

    [Fact]
    public async Task An_entry_that_could_not_be_recorded_is_recorded_again_by_a_press()
    {
        var fact = Oiled("parked-1", Plant.FormForeman.Id);
        await ExecuteAsync("insert into trace.parked (id, content_hash, source, event_id, type, device, assurance, reason, bytes, received_at, parked_at) values ($1, $2, $3, $4, $5, $6, 'intake', 'The disk was full.', $7, now(), now())",
            fact.RecordId, fact.ContentHash, fact.Source, fact.Id, fact.Type, Plant.FormHall.Device, fact.Canonical.ToArray());
        var page = await SignInAsync(Plant.Administrator);
        await page.GetByRole(AriaRole.Link, new() { Name = "Could not be recorded" }).ClickAsync();
        await PictureAsync(page, "could-not-be-recorded");

        await page.GetByRole(AriaRole.Button, new() { Name = "Record again form oiled parked-1", Exact = false }).ClickAsync();

        await page.Locator("main [role=status]", new() { HasText = "it counts from now on" }).WaitForAsync();
        Assert.Equal("1", (await Running.RowsAsync($"select count(*) from trace.record where id = '{fact.RecordId}'"))[0][0]);
    }

    [Fact]
    public async Task A_pin_is_changed_with_password_and_pin_in_use_and_not_with_others()
    {
        var page = await SignInAsync(Plant.Dispatcher);
        await page.GetByRole(AriaRole.Link, new() { Name = Plant.Dispatcher.Id, Exact = false }).First.ClickAsync();
        await page.GetByLabel("Password in use").FillAsync("not the password");
        await page.GetByLabel("New PIN, 6 to 12 digits").FillAsync("731952");
        await page.GetByRole(AriaRole.Button, new() { Name = "Change" }).ClickAsync();
        await page.Locator("main [role=alert]", new() { HasText = "Not changed." }).WaitForAsync();

        await page.GetByLabel("Password in use").FillAsync(Running.Credentials.Person(Plant.Dispatcher.Id).Password);
        await page.GetByLabel("PIN in use").FillAsync(WrongPin);
        await page.GetByLabel("New PIN, 6 to 12 digits").FillAsync("731952");
        await page.GetByRole(AriaRole.Button, new() { Name = "Change" }).ClickAsync();
        await page.Locator("main [role=alert]", new() { HasText = "The PIN is not right" }).WaitForAsync();

        await page.GetByLabel("Password in use").FillAsync(Running.Credentials.Person(Plant.Dispatcher.Id).Password);
        await page.GetByLabel("PIN in use").FillAsync(Pin(Plant.Dispatcher));
        await page.GetByLabel("New PIN, 6 to 12 digits").FillAsync("731952");
        await page.GetByRole(AriaRole.Button, new() { Name = "Change" }).ClickAsync();

        await page.Locator("main [role=status]", new() { HasText = "Changed." }).WaitForAsync();
        await PictureAsync(page, "account");
    }

    [Fact]
    public async Task A_code_is_made_for_a_kiosk_and_a_device_is_restricted_to_its_sender_names()
    {
        var page = await SignInAsync(Plant.Administrator);
        await page.GetByRole(AriaRole.Link, new() { Name = "Devices" }).ClickAsync();
        await page.GetByRole(AriaRole.Checkbox, new() { Name = "yard" }).CheckAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Make a code" }).ClickAsync();
        Assert.NotEqual("", await page.Locator("#code").InnerTextAsync());

        var row = page.Locator("tr", new() { HasText = Plant.Yard.Device }).First;
        await row.Locator("summary", new() { HasText = "Restrict" }).ClickAsync();
        await row.GetByLabel("Allowed sender names").FillAsync(Plant.Yard.Source);
        await row.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();

        await RunningPlant.EventuallyAsync(async () => (await row.InnerTextAsync()).Contains(Plant.Yard.Source, StringComparison.Ordinal), "the sender name is shown");
        await PictureAsync(page, "devices");
    }

    [Fact]
    public async Task A_new_inspector_decides_only_after_a_quality_engineer_confirmed_it_and_a_refused_one_never()
    {
        const string password = "wet gravel at seven", pin = "31415926";
        var administrator = await SignInAsync(Plant.Administrator);
        async Task<string> AddAsync(string id, string name)
        {
            await GoAsync(administrator, "/people");
            await administrator.GetByLabel("Id, never a name").FillAsync(id);
            await administrator.GetByLabel("Name", new() { Exact = true }).FillAsync(name);
            await administrator.Locator("#new-plant-inspector").CheckAsync();
            await administrator.GetByRole(AriaRole.Button, new() { Name = "Add person" }).ClickAsync();
            await administrator.Locator("main [role=status]", new() { HasText = "Not yet plant inspector" }).WaitForAsync();
            return await administrator.Locator("#password").InnerTextAsync();
        }

        var first = await AddAsync("p-150", "Somebody to inspect");
        await AddAsync("p-151", "Somebody to refuse");
        await PictureAsync(administrator, "people-waiting");

        var own = await SignInAsync("p-150", first);
        await own.GetByLabel("Password in use").FillAsync(first);
        await own.GetByLabel("New PIN, 6 to 12 digits").FillAsync(pin);
        await own.GetByLabel("New password, at least 12").FillAsync(password);
        await own.GetByRole(AriaRole.Button, new() { Name = "Change" }).ClickAsync();
        await own.Locator("main [role=status]", new() { HasText = "Changed." }).WaitForAsync();
        await own.GetByText("waits for a second person").WaitForAsync();
        await PictureAsync(own, "account-waiting");

        var engineer = await SignInAsync(Plant.QualityEngineer);
        await engineer.GetByRole(AriaRole.Link, new() { Name = "Waiting for me" }).ClickAsync();
        var line = engineer.Locator("li.line", new() { HasText = "p-150" });
        await engineer.Locator("li.line", new() { HasText = "p-151" }).GetByText("Has not yet chosen").WaitForAsync();
        await PictureAsync(engineer, "waiting-people");
        await line.GetByLabel("Your PIN").First.FillAsync(WrongPin);
        await line.GetByRole(AriaRole.Button, new() { Name = "Confirm the role" }).ClickAsync();
        await engineer.Locator("main [role=alert]", new() { HasText = "The PIN is not right" }).WaitForAsync();
        await line.GetByLabel("Your PIN").First.FillAsync(Pin(Plant.QualityEngineer));
        await line.GetByRole(AriaRole.Button, new() { Name = "Confirm the role" }).ClickAsync();
        await engineer.Locator("main [role=status]", new() { HasText = "The role holds" }).WaitForAsync();
        Assert.Equal(0, await line.CountAsync());

        line = engineer.Locator("li.line", new() { HasText = "p-151" });
        await line.Locator("summary", new() { HasText = "Refuse" }).ClickAsync();
        await line.GetByLabel("Why").FillAsync("Nobody knows this person here");
        await line.GetByLabel("Your PIN").FillAsync(Pin(Plant.QualityEngineer));
        await line.GetByRole(AriaRole.Button, new() { Name = "Refuse the role" }).ClickAsync();
        await engineer.Locator("main [role=status]", new() { HasText = "does not hold" }).WaitForAsync();

        var inspector = await SignInAsync("p-150", password);
        await GoAsync(inspector, "/account");
        await inspector.GetByText("Somebody to inspect p-150: plant inspector.").WaitForAsync();
        Assert.Equal(0, await inspector.GetByText("waits for a second person").CountAsync());
    }

    [Fact]
    public async Task Roles_are_given_after_the_pin_and_a_second_press_sends_nothing()
    {
        var page = await SignInAsync(Plant.Administrator);
        await GoAsync(page, "/people");
        await page.GetByText("Change " + Plant.YardForeman.Id).ClickAsync();
        var form = page.Locator("form", new() { Has = page.GetByRole(AriaRole.Button, new() { Name = "Give these roles to " + Plant.YardForeman.Id }) });
        await form.GetByRole(AriaRole.Checkbox, new() { Name = "shipping" }).CheckAsync();
        await form.GetByLabel("Your PIN").FillAsync(WrongPin);
        await form.GetByRole(AriaRole.Button).ClickAsync();
        await page.Locator("main [role=alert]", new() { HasText = "PIN" }).WaitForAsync();
        Assert.True(await form.GetByRole(AriaRole.Checkbox, new() { Name = "shipping" }).IsCheckedAsync());
        await form.GetByLabel("Your PIN").FillAsync(Pin(Plant.Administrator));

        var sent = 0;
        page.Request += (_, request) => sent += request.Method == "POST" ? 1 : 0;
        // Two presses without a pause between: a shaking hand, or the wish to be sure.
        await form.GetByRole(AriaRole.Button).EvaluateAsync("b => { b.click(); b.click(); }");
        await page.Locator("main [role=status]", new() { HasText = "has these roles now" }).WaitForAsync();
        Assert.Equal(1, sent);
    }

    [Fact]
    public async Task An_inspector_is_assigned_to_an_agency_after_a_wrong_pin_and_what_was_entered_is_not_lost()
    {
        const string agency = "Invented Tollway Agency";
        var page = await SignInAsync(Plant.QualityEngineer);
        await page.GetByRole(AriaRole.Link, new() { Name = "Inspectors" }).ClickAsync();
        await page.GetByLabel("Inspector", new() { Exact = true }).SelectOptionAsync(Plant.NorthInspector.Id);
        await page.GetByLabel("Agency, written as its contracts write it").FillAsync(agency);
        await page.GetByLabel("From").FillAsync("2026-03-02");
        await page.GetByLabel("Your PIN").FillAsync(WrongPin);
        await page.GetByRole(AriaRole.Button, new() { Name = "Assign" }).ClickAsync();
        await page.Locator("main [role=alert]", new() { HasText = "The PIN is not right" }).WaitForAsync();
        Assert.Equal(agency, await page.GetByLabel("Agency, written as its contracts write it").InputValueAsync());

        await page.GetByLabel("Your PIN").FillAsync(Pin(Plant.QualityEngineer));
        await page.GetByRole(AriaRole.Button, new() { Name = "Assign" }).ClickAsync();
        await page.Locator("main [role=status]", new() { HasText = $"{Plant.NorthInspector.Id} acts for {agency}" }).WaitForAsync();
        await page.Locator("tr", new() { HasText = agency }).WaitForAsync();
        await PictureAsync(page, "inspectors");
    }

    private async Task ExecuteAsync(string sql, params object[] values)
    {
        await using var connection = new NpgsqlConnection(Running.ConnectionString);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection);
        foreach (var value in values) command.Parameters.Add(new() { Value = value });
        await command.ExecuteNonQueryAsync();
    }
}
