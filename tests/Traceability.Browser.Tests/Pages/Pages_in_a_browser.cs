using System.Text.RegularExpressions;
using Deque.AxeCore.Playwright;
using Microsoft.Playwright;
using Traceability.Browser.Tests.Hosting;
using Traceability.Core.Events;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Checking;
using Traceability.PlantSimulator.Story;
using Fact = Xunit.FactAttribute;

namespace Traceability.Browser.Tests.Pages;

/// <summary>A plant of its own, because the kiosk's tests count units and heats: twelve units cast, none stripped, all mishaps of the story.</summary>
public sealed class CastPlant : IAsyncLifetime
{
    public const string Key = "PG-";

    public RunningPlant Plant { get; } = new();

    public async Task InitializeAsync()
    {
        await Plant.InitializeAsync();
        var story = PlantStory.RigidFrame(17, 12, PlantStory.StartFor(12, TimeProvider.System.GetUtcNow()), Mishaps.All, Key);
        using var stations = new ServiceClient(Plant.Address, Plant.Credentials);
        foreach (var device in story.Facts.Where(f => f.Event.Type is not ("unit.shipped.v1" or "unit.stripped.v1")).DistinctBy(f => (f.Event.Source, f.Event.Id)).GroupBy(f => f.Device))
            await stations.RecordAsync(device.Key, [.. device.Select(f => f.Event)], CancellationToken.None);
        await RunningPlant.EventuallyAsync(async () => (await Plant.RowsAsync("select count(*) from trace.quarantine where " + Settling.Weighed))[0][0] == "0", "what says a record anew was weighed");
        using (var deputy = new Session(Plant.Address, Plant.Credentials.Person(PlantSimulator.Story.Plant.DeputyEngineer.Id))) await SecondPerson.ApproveAsync(deputy, CancellationToken.None);
        await RunningPlant.EventuallyAsync(async () => (await Plant.RowsAsync("select count(*) from trace.stale_unit"))[0][0] == "0"
            && (await Plant.RowsAsync($"select count(*) from marten.mt_doc_unitrow where id like '{Key}%'"))[0][0] == "12", "every unit has its row");
    }

    public Task DisposeAsync() => Plant.DisposeAsync();
}

[CollectionDefinition(Name, DisableParallelization = true)]
public sealed class PagesCollection : ICollectionFixture<CastPlant>
{
    public const string Name = "a running plant for pages";
}

/// <summary>The service's pages in a real Chromium: readable by everybody, at every width, by keyboard, and fresh by themselves.</summary>
[Collection(PagesCollection.Name)]
public sealed class Pages_in_a_browser(CastPlant cast) : IAsyncLifetime
{
    private const string Key = CastPlant.Key;
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

    private async Task<IPage> SignInAsync(Worker worker, int width = 1280)
    {
        var page = await (await _browser.NewContextAsync(new() { ViewportSize = new() { Width = width, Height = 900 }, TimezoneId = "America/New_York" })).NewPageAsync();
        await page.GotoAsync(new Uri(_plant.Address, "/sign-in").ToString());
        await page.GetByLabel("Person id").FillAsync(worker.Id);
        await page.GetByLabel("Password").FillAsync(_plant.Credentials.Person(worker.Id).Password);
        await page.GetByRole(AriaRole.Button, new() { Name = "Sign in" }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "Board" }).WaitForAsync();
        return page;
    }

    private async Task<string[]> PathsAsync()
    {
        var corrected = (await _plant.RowsAsync("select id from trace.record where type = 'close-up.inspected.v1' and source = '/plant/inspection-1' limit 1"))[0][0];
        var profile = (await _plant.RowsAsync("select substr(stream, 9) from trace.record where type = 'profile.published.v1' limit 1"))[0][0];
        var poured = (await _plant.RowsAsync("select max(position) from trace.record where type = 'pour.placed.v1'"))[0][0];
        var before = long.Parse(poured, System.Globalization.CultureInfo.InvariantCulture) - 4;
        return ["/", "/units", $"/units/{Key}RF-0002", $"/units/{Key}RF-0005", $"/units/{Key}RF-0005?position={poured}", $"/?position={poured}", $"/replay/changes?from={before}&to={poured}", $"/replay/units/{Key}RF-0005?from={before}&to={poured}", "/units/none", $"/subjects/lot%3Amill-b/{Key}B61208",
            "/subjects/instrument%3ACM-1", "/records/" + corrected, "/profiles", "/profiles/" + profile, $"/compare/{Key}RF-0002?profile={profile}", "/quarantine", "/people", "/devices", "/account", "/nonconformances", "/not-allowed", "/sign-in"];
    }

    [Theory]
    [InlineData(360)]
    [InlineData(1280)]
    [InlineData(1920)]
    public async Task No_page_has_a_serious_flaw_of_accessibility_or_is_wider_than_its_screen(int width)
    {
        var problems = new List<string>();
        var page = await SignInAsync(Plant.Administrator, width);
        page.Console += (_, message) => { if (message.Type is "error" && !message.Text.Contains("404", StringComparison.Ordinal) && !message.Text.Contains("403", StringComparison.Ordinal)) problems.Add(message.Text); };
        page.PageError += (_, error) => problems.Add(error);
        foreach (var path in await PathsAsync())
        {
            await page.GotoAsync(new Uri(_plant.Address, path).ToString());
            await page.EvaluateAsync("() => document.querySelectorAll('details').forEach(d => d.open = true)");
            if (width != 1920) problems.AddRange((await page.RunAxe()).Violations.Where(v => v.Impact is "serious" or "critical").Select(v => $"{path}: {v.Id} ({v.Impact}) {string.Join(" | ", v.Nodes.Select(n => n.Html))}"));
            if (await page.EvaluateAsync<bool>("() => document.documentElement.scrollWidth > innerWidth")) problems.Add($"{path}: wider than {width} px");
            problems.AddRange((await page.EvaluateAsync<string[]>("""
                () => {
                  const found = [];
                  const levels = [...document.querySelectorAll("h1, h2, h3, h4")].map(h => +h.tagName[1]);
                  if (levels.filter(l => l === 1).length !== 1) found.push("not exactly one first heading");
                  levels.forEach((l, i) => { if (i > 0 && l > levels[i - 1] + 1) found.push("a heading skips a level"); });
                  for (const mark of document.querySelectorAll(".mark")) if (mark.textContent.trim().split(/\s+/).length < 2) found.push("a state by symbol or colour alone: " + mark.outerHTML);
                  return found;
                }
                """)).Select(p => $"{path}: {p}"));
            if (width != 1920) await page.ScreenshotAsync(new() { Path = Path.Combine(RunningPlant.Screens, $"page-{Regex.Replace(path, "[^A-Za-z0-9]+", "-").Trim('-')}-{width}.png"), FullPage = true });
        }

        Assert.True(problems.Count == 0, string.Join('\n', problems));
    }

    [Fact]
    public async Task The_way_to_a_unit_and_its_findings_goes_by_keyboard_alone()
    {
        var page = await SignInAsync(Plant.Inspector);
        await page.GotoAsync(new Uri(_plant.Address, "/units").ToString());
        await page.Keyboard.PressAsync("Tab");
        Assert.Equal("Skip to the content", await page.EvaluateAsync<string>("() => document.activeElement.textContent"));
        await page.Keyboard.PressAsync("Enter");
        await page.Keyboard.PressAsync("Tab");
        Assert.Equal("q", await page.EvaluateAsync<string>("() => document.activeElement.id"));
        await page.Keyboard.TypeAsync(Key + "RF-0003");
        await page.Keyboard.PressAsync("Enter");
        await page.GetByRole(AriaRole.Heading, new() { NameRegex = new("^Units for") }).WaitForAsync();
        for (var i = 0; i < 20 && await page.EvaluateAsync<string>("() => document.activeElement.textContent") != Key + "RF-0003"; i++) await page.Keyboard.PressAsync("Tab");
        await page.Keyboard.PressAsync("Enter");
        await page.GetByRole(AriaRole.Heading, new() { Name = $"Unit {Key}RF-0003" }).WaitForAsync();
        for (var i = 0; i < 40 && await page.EvaluateAsync<string>("() => document.activeElement.tagName") != "SUMMARY"; i++) await page.Keyboard.PressAsync("Tab");
        await page.Keyboard.PressAsync("Enter");
        Assert.True(await page.EvaluateAsync<bool>("() => document.activeElement.parentElement.open"));
        Assert.NotEqual("none", await page.EvaluateAsync<string>("() => getComputedStyle(document.activeElement).outlineStyle"));
    }

    [Fact]
    public async Task An_open_unit_page_says_that_something_came_in_and_the_board_brings_itself_up_to_date()
    {
        var unit = $"{Key}RF-0012";
        var page = await SignInAsync(Plant.Auditor);
        await page.GotoAsync(new Uri(_plant.Address, "/units/" + unit).ToString());
        var board = await SignInAsync(Plant.Auditor);
        var before = await board.Locator(".asof").First.TextContentAsync();
        await page.WaitForTimeoutAsync(500);

        using (var stations = new ServiceClient(_plant.Address, _plant.Credentials))
        {
            var now = TimeProvider.System.GetUtcNow();
            var stripped = Core.Records.CloudEvent.Read(System.Text.Json.JsonSerializer.SerializeToUtf8Bytes(new
            {
                specversion = "1.0", id = Guid.NewGuid().ToString(), source = "/plant/yard-1", type = "unit.stripped.v1", time = now.ToString("O"), datacontenttype = "application/json", person = Plant.YardForeman.Id,
                data = FactCatalog.Write(new UnitStripped(unit, "four-leg gear", 4, Core.Quantities.Reading.Parse("60"), "row 7")),
            }));
            await stations.RecordAsync(Plant.Yard.Device, [stripped], CancellationToken.None);
        }

        await page.GetByText("Something came in for this unit.").WaitForAsync();
        await RunningPlant.EventuallyAsync(async () => await board.Locator("#ship").GetByText("row 7").IsVisibleAsync() && await board.Locator(".asof").First.TextContentAsync() != before, "the board shows the stripped unit");
        await page.GetByRole(AriaRole.Link, new() { Name = "Judge it again" }).ClickAsync();
        await page.GetByText("yard, row 7").First.WaitForAsync();
    }
}
