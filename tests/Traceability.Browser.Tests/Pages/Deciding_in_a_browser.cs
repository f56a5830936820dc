using System.Diagnostics;
using Microsoft.Playwright;
using Traceability.Browser.Tests.Hosting;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;

namespace Traceability.Browser.Tests.Pages;

/// <summary>Every decision that has a page is clicked here in a real Chromium by the person who may take it, with a wrong PIN and with a session lost on the way.</summary>
[Collection(PagesCollection.Name)]
public sealed class Deciding_in_a_browser(CastPlant cast) : IAsyncLifetime
{
    private const string WrongPin = "000000";

    private readonly RunningPlant _plant = cast.Plant;
    private IPlaywright _playwright = null!;
    private IBrowser _browser = null!;

    public async Task InitializeAsync()
    {
        _playwright = await Playwright.CreateAsync();
        _browser = await _playwright.Chromium.LaunchAsync(new() { ExecutablePath = Environment.GetEnvironmentVariable("TRACE_CHROMIUM") ?? "/usr/bin/chromium", Args = ["--no-sandbox", "--disable-gpu"] });
    }

    public async Task DisposeAsync()
    {
        await _browser.DisposeAsync();
        _playwright.Dispose();
    }

    private string Pin(Worker worker) => _plant.Credentials.Person(worker.Id).Pin;

    private Task<IResponse?> GoAsync(IPage page, string path) => page.GotoAsync(new Uri(_plant.Address, path).ToString());

    private async Task<IPage> SignInAsync(Worker worker)
    {
        var page = await (await _browser.NewContextAsync(new() { ViewportSize = new() { Width = 1280, Height = 900 }, TimezoneId = "America/New_York" })).NewPageAsync();
        page.SetDefaultTimeout(15_000);
        await GoAsync(page, "/sign-in");
        await FillSignInAsync(page, worker);
        await page.GetByRole(AriaRole.Heading, new() { NameRegex = new("^(Board|Units)$") }).WaitForAsync();
        return page;
    }

    private async Task FillSignInAsync(IPage page, Worker worker)
    {
        await page.GetByLabel("Person id").FillAsync(worker.Id);
        await page.GetByLabel("Password").FillAsync(_plant.Credentials.Person(worker.Id).Password);
        await page.GetByRole(AriaRole.Button, new() { Name = "Sign in" }).ClickAsync();
    }

    /// <summary>The first unit whose page, as this person sees it, has a form; the form's details opened.</summary>
    private Task<ILocator> FormAsync(IPage page, string button) => FormAsync(page, page.GetByRole(AriaRole.Button, new() { Name = button, Exact = true }), button);

    private async Task<ILocator> FormAsync(IPage page, ILocator within, string what)
    {
        for (var i = 1; i <= 12; i++)
        {
            await GoAsync(page, $"/units/{CastPlant.Key}RF-00{i:00}");
            await page.EvaluateAsync("() => document.querySelectorAll('details').forEach(d => d.open = true)");
            var form = page.Locator("form", new() { Has = within }).First;
            if (await form.CountAsync() > 0) return form;
        }

        throw new InvalidOperationException($"no unit has a form with '{what}'");
    }

    private static Task<string> AlertAsync(IPage page) => page.Locator("main [role=alert]").First.InnerTextAsync();

    private static async Task PictureAsync(IPage page, string name)
    {
        await page.ScreenshotAsync(new() { Path = Path.Combine(RunningPlant.Screens, $"deciding-{name}.png"), FullPage = true });
    }

    [Fact]
    public async Task A_note_that_names_a_person_is_warned_of_before_it_is_sent_and_goes_when_the_button_is_pressed_again()
    {
        var page = await SignInAsync(Plant.Inspector);
        var form = await FormAsync(page, page.GetByRole(AriaRole.Button, new() { NameRegex = new("^Release ") }), "Release");
        var posts = 0;
        page.Request += (_, request) => posts += request.Method == "POST" && !request.Url.Contains("/v1/free-text/", StringComparison.Ordinal) ? 1 : 0;
        await form.GetByLabel("Note, if any").FillAsync("Dry, says the " + Plant.PourForeman.Duty);
        await form.GetByLabel("Your PIN").FillAsync(WrongPin);
        await form.GetByRole(AriaRole.Button).ClickAsync();

        var warning = page.Locator("main [role=alert].named");
        await warning.WaitForAsync();
        Assert.Equal("This text names a person. Records cannot be erased; write the badge id instead. To send it as it is, press the button again.", await warning.InnerTextAsync());
        Assert.Equal(0, posts);
        Assert.Equal(WrongPin, await form.GetByLabel("Your PIN").InputValueAsync());
        // The form alone: the page of a unit is too long to be looked at.
        await form.ScreenshotAsync(new() { Path = Path.Combine(RunningPlant.Screens, "deciding-note-names-a-person.png") });

        // A wrong PIN, so that the hold stays as other tests want it; the answer says that the form was sent.
        await form.GetByRole(AriaRole.Button).ClickAsync();
        await page.GetByText("The PIN is not right").First.WaitForAsync();
        Assert.Equal(1, posts);

        // Another text without a name goes at the first press.
        form = page.Locator("form.release");
        await Assertions.Expect(form.GetByLabel("Note, if any")).ToHaveValueAsync("Dry, says the " + Plant.PourForeman.Duty);
        await form.GetByLabel("Note, if any").FillAsync($"Dry, says {Plant.PourForeman.Id}");
        await form.GetByLabel("Your PIN").FillAsync(WrongPin);
        var answered = page.WaitForResponseAsync(r => r.Request.Method == "POST" && !r.Url.Contains("/v1/free-text/", StringComparison.Ordinal));
        await form.GetByRole(AriaRole.Button).ClickAsync();
        await answered;
        Assert.Equal(2, posts);
    }

    [Fact]
    public async Task A_hold_is_released_after_a_wrong_pin_and_the_note_is_not_lost_and_the_release_is_undone()
    {
        var page = await SignInAsync(Plant.Inspector);
        var form = await FormAsync(page, page.GetByRole(AriaRole.Button, new() { NameRegex = new("^Release ") }), "Release");
        var unit = new Uri(page.Url).AbsolutePath;
        await form.GetByLabel("Note, if any").FillAsync("Rebound hammer agrees");
        await form.GetByLabel("Your PIN").FillAsync(WrongPin);
        await form.GetByRole(AriaRole.Button).ClickAsync();

        await page.GetByText("The PIN is not right").First.WaitForAsync();
        form = page.Locator("form.release");
        Assert.Equal("Rebound hammer agrees", await form.GetByLabel("Note, if any").InputValueAsync());
        Assert.Equal("", await form.GetByLabel("Your PIN").InputValueAsync());
        await PictureAsync(page, "release-wrong-pin");

        await form.GetByLabel("Your PIN").FillAsync(Pin(Plant.Inspector));
        await form.GetByRole(AriaRole.Button).ClickAsync();
        await page.WaitForURLAsync("**released=*");
        Assert.Equal("1", (await _plant.RowsAsync($"select count(*) from trace.record where type like '%.released.v1' and stream = 'unit:{unit[7..]}'"))[0][0]);
        await PictureAsync(page, "released");

        await page.Locator("summary", new() { HasTextRegex = new("^Undo the release of the") }).First.ClickAsync();
        await page.GetByLabel("Why it does not stand").FillAsync("Wrong unit");
        var undo = page.Locator("form", new() { Has = page.GetByLabel("Why it does not stand") });
        await undo.GetByLabel("Your PIN").FillAsync(WrongPin);
        await undo.GetByRole(AriaRole.Button, new() { Name = "Undo" }).ClickAsync();
        await page.GetByText("The PIN is not right").First.WaitForAsync();
        Assert.Equal("Wrong unit", await page.GetByLabel("Why it does not stand").InputValueAsync());
        await undo.GetByLabel("Your PIN").FillAsync(Pin(Plant.Inspector));
        await undo.GetByRole(AriaRole.Button, new() { Name = "Undo" }).ClickAsync();
        await page.Locator("[role=status]", new() { HasText = "undone" }).WaitForAsync();
    }

    [Fact]
    public async Task What_was_typed_survives_a_lost_session_and_is_signed_after_signing_in_again()
    {
        var page = await SignInAsync(Plant.Inspector);
        var form = await FormAsync(page, page.GetByRole(AriaRole.Button, new() { NameRegex = new("^Release ") }), "Release");
        var unit = new Uri(page.Url).AbsolutePath;
        await form.GetByLabel("Note, if any").FillAsync("Typed before the session ended");
        await form.GetByLabel("Your PIN").FillAsync(Pin(Plant.Inspector));
        await page.Context.ClearCookiesAsync();
        await form.GetByRole(AriaRole.Button).ClickAsync();

        await page.GetByRole(AriaRole.Heading, new() { Name = "Sign in" }).WaitForAsync();
        await FillSignInAsync(page, Plant.Inspector);
        await page.GetByText("This was not sent yet").WaitForAsync();
        Assert.Equal(unit, new Uri(page.Url).AbsolutePath);
        form = page.Locator("form.release");
        Assert.Equal("Typed before the session ended", await form.GetByLabel("Note, if any").InputValueAsync());
        await PictureAsync(page, "lost-session");
        await form.GetByLabel("Your PIN").FillAsync(Pin(Plant.Inspector));
        await form.GetByRole(AriaRole.Button).ClickAsync();
        await page.WaitForURLAsync("**released=*");

        // Taken: nothing is put into the form of another visit.
        await GoAsync(page, unit);
        Assert.DoesNotContain("This was not sent yet", await page.InnerTextAsync("main"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_form_of_another_persons_session_is_answered_by_a_page_and_what_was_typed_is_there_again()
    {
        var page = await SignInAsync(Plant.QualityEngineer);
        await FormAsync(page, "Override");
        var form = page.Locator("form", new() { Has = page.GetByLabel("Why the work may go on") }).First;
        await form.GetByLabel("Why the work may go on").FillAsync("Typed in the first session");
        // Signed on as somebody else in another tab of the same browser.
        var other = await page.Context.NewPageAsync();
        await GoAsync(other, "/");
        await other.GetByRole(AriaRole.Button, new() { Name = "Sign out" }).ClickAsync();
        await GoAsync(other, "/sign-in");
        await FillSignInAsync(other, Plant.DeputyEngineer);
        await other.GetByRole(AriaRole.Heading, new() { NameRegex = new("^(Board|Units)$") }).WaitForAsync();

        foreach (var field in await form.Locator("input[required]:not([name=reason])").AllAsync()) await field.FillAsync("123456");
        await form.GetByRole(AriaRole.Button).ClickAsync();

        await page.GetByRole(AriaRole.Heading, new() { Name = "This form was not taken" }).WaitForAsync();
        await PictureAsync(page, "form-not-taken");
        await page.GetByRole(AriaRole.Link, new() { Name = "Back to the page" }).ClickAsync();
        await page.GetByText("This was not sent yet").WaitForAsync();
        Assert.Equal("Typed in the first session", await page.GetByLabel("Why the work may go on").First.InputValueAsync());
    }

    [Fact]
    public async Task An_override_names_both_who_signed_it()
    {
        var page = await SignInAsync(Plant.QualityEngineer);
        var form = await FormAsync(page, "Override");
        await form.GetByLabel("Why the work may go on").FillAsync("The truck waits; the finding is a clerk's");
        await form.GetByLabel("Second approver's id").FillAsync(Plant.DeputyEngineer.Id);
        await form.GetByLabel("Your PIN").FillAsync(Pin(Plant.QualityEngineer));
        await form.GetByLabel("Second approver's PIN").FillAsync(WrongPin);
        await form.GetByRole(AriaRole.Button, new() { Name = "Override" }).ClickAsync();

        await page.GetByText("The PIN is not right").First.WaitForAsync();
        form = page.Locator("form", new() { Has = page.GetByLabel("Second approver's id") }).First;
        Assert.Equal(Plant.DeputyEngineer.Id, await form.GetByLabel("Second approver's id").InputValueAsync());
        await form.GetByLabel("Your PIN").FillAsync(Pin(Plant.QualityEngineer));
        await form.GetByLabel("Second approver's PIN").FillAsync(Pin(Plant.DeputyEngineer));
        await form.GetByRole(AriaRole.Button, new() { Name = "Override" }).ClickAsync();
        await page.Locator("[role=status]", new() { HasText = "overridden" }).WaitForAsync();
        await PictureAsync(page, "overridden");
    }

    [Fact]
    public async Task The_agencys_inspector_records_a_waiver()
    {
        var page = await SignInAsync(Plant.NorthInspector);
        var form = await FormAsync(page, "Record the waiver");
        await form.GetByLabel("From").FillAsync("2026-11-20T08:00");
        await form.GetByLabel("Until").FillAsync("2026-12-20T17:00");
        await form.GetByLabel("The agency's letter").FillAsync("E-118");
        await form.GetByLabel("Your PIN").FillAsync(WrongPin);
        await form.GetByRole(AriaRole.Button).ClickAsync();

        await page.GetByText("The PIN is not right").First.WaitForAsync();
        form = page.Locator("form", new() { Has = page.GetByLabel("The agency's letter") }).Filter(new() { Has = page.Locator("input[name=letter]") }).First;
        Assert.Contains("E-118", await page.EvaluateAsync<string[]>("() => [...document.querySelectorAll('input[name=letter]')].map(i => i.value)"));
        var open = page.Locator("details[open] form", new() { Has = page.Locator("input[name=letter]") }).First;
        await open.GetByLabel("Your PIN").FillAsync(Pin(Plant.NorthInspector));
        await open.GetByRole(AriaRole.Button).ClickAsync();
        await page.Locator("[role=status]", new() { HasText = "waiver is recorded" }).WaitForAsync();
    }

    [Fact]
    public async Task A_disposition_is_chosen_by_the_person_and_not_preset()
    {
        var unit = CastPlant.Key + "RF-0004";
        using (var stations = new ServiceClient(_plant.Address, _plant.Credentials))
        {
            await stations.RecordAsync(Plant.Inspection.Device, [Traceability.Core.Records.CloudEvent.Read(System.Text.Json.JsonSerializer.SerializeToUtf8Bytes(new
            {
                specversion = "1.0", id = "nc-browser-1", source = Plant.Inspection.Source, type = "nonconformance.raised.v1", time = TimeProvider.System.GetUtcNow().AddHours(-1).ToString("O"), person = Plant.Inspector.Id, clockoffsetms = 0,
                data = new { nonconformance = "NC-BROWSER-1", units = new[] { unit }, @class = "minor", structural = false, description = "Bug holes on the soffit" },
            }))], CancellationToken.None);
        }

        var page = await SignInAsync(Plant.QualityEngineer);
        await GoAsync(page, "/nonconformances");
        await page.GetByText("Decide NC-BROWSER-1").ClickAsync();
        var form = page.Locator("form", new() { Has = page.Locator("input[value='NC-BROWSER-1']") });
        Assert.Equal("", await form.GetByLabel("Disposition").InputValueAsync());
        await form.GetByLabel("Procedure or reason").FillAsync("Sack and patch by the plant's procedure 4");
        await form.GetByLabel("Your PIN").FillAsync(WrongPin);
        await form.GetByRole(AriaRole.Button).ClickAsync();
        Assert.Contains("/nonconformances", page.Url, StringComparison.Ordinal);
        Assert.True(await form.GetByLabel("Disposition").EvaluateAsync<bool>("s => s.matches(':invalid')"));

        await form.GetByLabel("Disposition").SelectOptionAsync("repair");
        await form.GetByRole(AriaRole.Button).ClickAsync();
        Assert.Contains("The PIN is not right", await AlertAsync(page), StringComparison.Ordinal);
        Assert.Equal(("repair", "Sack and patch by the plant's procedure 4"), (await form.GetByLabel("Disposition").InputValueAsync(), await form.GetByLabel("Procedure or reason").InputValueAsync()));
        await form.GetByLabel("Your PIN").FillAsync(Pin(Plant.QualityEngineer));
        await form.GetByRole(AriaRole.Button).ClickAsync();
        await page.Locator("[role=status]").WaitForAsync();
        Assert.Equal("1", (await _plant.RowsAsync("select count(*) from trace.record where type = 'nonconformance.disposed.v1' and stream like '%NC-BROWSER-1'"))[0][0]);
    }

    [Fact]
    public async Task Roles_end_secrets_change_names_go_and_devices_are_revoked_only_after_a_question_and_the_pin()
    {
        var page = await SignInAsync(Plant.Administrator);
        await GoAsync(page, "/people");
        await page.GetByLabel("Id, never a name").FillAsync("p-140");
        await page.GetByLabel("Name", new() { Exact = true }).FillAsync("Somebody new");
        await page.Locator("#new-yard").CheckAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Add person" }).ClickAsync();
        await page.Locator("[role=status]", new() { HasText = "p-140" }).WaitForAsync();

        await ActAsync("New first password for p-140", "Make a new one for p-140", "new first password");
        await ActAsync("End all roles of p-140", "End all roles now for p-140", "no roles");
        await ActAsync("Delete the name of p-140", "Delete the name now for p-140", "no name");
        await PictureAsync(page, "people");

        await GoAsync(page, "/devices");
        await page.GetByText("Revoke Batch tickets read from files").ClickAsync();
        await PictureAsync(page, "devices-question");
        var revoke = page.Locator("form", new() { Has = page.GetByRole(AriaRole.Button, new() { Name = "Revoke now for Batch tickets read from files" }) });
        await revoke.GetByLabel("Your PIN").FillAsync(WrongPin);
        await revoke.GetByRole(AriaRole.Button).ClickAsync();
        Assert.Contains("The PIN is not right", await AlertAsync(page), StringComparison.Ordinal);
        await revoke.GetByLabel("Your PIN").FillAsync(Pin(Plant.Administrator));
        await revoke.GetByRole(AriaRole.Button).ClickAsync();
        await page.Locator("tr", new() { HasText = "ticket-files" }).GetByText("Revoked").WaitForAsync();

        async Task ActAsync(string question, string button, string said)
        {
            await page.GetByText("Change p-140").ClickAsync();
            await page.GetByText(question).ClickAsync();
            var form = page.Locator("form", new() { Has = page.GetByRole(AriaRole.Button, new() { Name = button }) });
            await form.GetByLabel("Your PIN").FillAsync(WrongPin);
            await form.GetByRole(AriaRole.Button).ClickAsync();
            Assert.Contains("The PIN is not right", await AlertAsync(page), StringComparison.Ordinal);
            // The question stands open again.
            await form.GetByLabel("Your PIN").FillAsync(Pin(Plant.Administrator));
            await form.GetByRole(AriaRole.Button).ClickAsync();
            await page.Locator("[role=status]", new() { HasText = said }).WaitForAsync();
        }
    }

    [Fact]
    public async Task Eight_open_pages_and_the_way_back_through_eight_pages_do_not_hang()
    {
        var first = await SignInAsync(Plant.Auditor);
        var slowest = TimeSpan.Zero;
        for (var i = 1; i <= 8; i++)
        {
            var tab = await first.Context.NewPageAsync();
            var clock = Stopwatch.StartNew();
            await GoAsync(tab, $"/units/{CastPlant.Key}RF-00{i:00}");
            await tab.GetByRole(AriaRole.Heading, new() { Name = $"Unit {CastPlant.Key}RF-00{i:00}" }).WaitForAsync();
            if (clock.Elapsed > slowest) slowest = clock.Elapsed;
        }

        for (var i = 1; i <= 8; i++) await GoAsync(first, $"/units/{CastPlant.Key}RF-00{i:00}");
        for (var i = 7; i >= 1; i--)
        {
            var clock = Stopwatch.StartNew();
            await first.GoBackAsync();
            await first.GetByRole(AriaRole.Heading, new() { Name = $"Unit {CastPlant.Key}RF-00{i:00}" }).WaitForAsync();
            if (clock.Elapsed > slowest) slowest = clock.Elapsed;
        }

        Assert.True(slowest < TimeSpan.FromSeconds(10), $"{slowest}");
    }

    [Theory]
    [InlineData("/no/such/page", "There is no such page")]
    [InlineData("/subjects", "There is no such page")]
    public async Task What_goes_wrong_is_said_by_a_page(string path, string title)
    {
        var page = await SignInAsync(Plant.Auditor);
        await GoAsync(page, path);
        var heading = await page.Locator("h1").InnerTextAsync();
        Assert.Contains(title, heading, StringComparison.Ordinal);
        await PictureAsync(page, "no-such-page");
    }
}
