using System.Diagnostics;
using Microsoft.Playwright;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;

namespace Traceability.Browser.Tests.Hosting;

/// <summary>A real Chromium on a profile folder of its own: a kiosk that can be pulled off the network, killed and started again.</summary>
public sealed class KioskBrowser : IAsyncDisposable
{
    private readonly IPlaywright _playwright;
    private readonly RunningPlant _plant;
    private readonly string _profile;

    private KioskBrowser(IPlaywright playwright, RunningPlant plant, string profile, IBrowserContext context)
    {
        (_playwright, _plant, _profile, Context) = (playwright, plant, profile, context);
        Page = context.Pages[0];
        Page.SetDefaultTimeout(30_000);
        // Whatever the page complains about belongs into the output of a failed test.
        Page.Console += (_, message) => { if (message.Type is "error" or "warning") Complaints.Add(message.Text); };
        Page.PageError += (_, error) => Complaints.Add(error);
    }

    public IBrowserContext Context { get; }

    public IPage Page { get; }

    public List<string> Complaints { get; } = [];

    public static Task<KioskBrowser> StartAsync(RunningPlant plant, int width = 1280, int height = 800) =>
        StartAsync(plant, Path.Combine(plant.Folder, "profile-" + Guid.NewGuid().ToString("N")), width, height);

    private static async Task<KioskBrowser> StartAsync(RunningPlant plant, string profile, int width, int height)
    {
        var playwright = await Playwright.CreateAsync();
        var context = await playwright.Chromium.LaunchPersistentContextAsync(profile, new()
        {
            ExecutablePath = Environment.GetEnvironmentVariable("TRACE_CHROMIUM") ?? "/usr/bin/chromium",
            Headless = true,
            ViewportSize = new() { Width = width, Height = height },
            TimezoneId = "America/New_York",
            Args = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
        });
        return new KioskBrowser(playwright, plant, profile, context);
    }

    /// <summary>Ends every process of this browser at once, as when the plug is pulled, and starts it again on the same profile.</summary>
    public async Task<KioskBrowser> KillAndStartAgainAsync(bool offline)
    {
        var killed = 0;
        foreach (var process in Mine())
        {
            using (process)
            {
                process.Kill();
                killed++;
            }
        }

        Assert.True(killed > 0, "no process of this browser was found to kill");
        await RunningPlant.EventuallyAsync(() => Task.FromResult(Mine().Count == 0), "the browser is gone");
        _playwright.Dispose();
        var size = Page.ViewportSize!;
        var again = await StartAsync(_plant, _profile, size.Width, size.Height);
        if (offline) await again.Context.SetOfflineAsync(true);
        return again;
    }

    public Task OpenAsync(string path = "") => Page.GotoAsync(new Uri(_plant.Kiosk, path).ToString());

    /// <summary>Enrols this browser as a kiosk of all three flows and waits until its papers are here and the app is kept for offline.</summary>
    public async Task EnrolAsync(string name)
    {
        await OpenAsync();
        await Page.GetByLabel("Code").FillAsync(await _plant.EnrolmentCodeAsync("cage-crew", "plant-inspector"));
        await Page.GetByLabel("Name of this kiosk").FillAsync(name);
        await Page.GetByRole(AriaRole.Button, new() { Name = "Enroll" }).ClickAsync();
        await Page.GetByRole(AriaRole.Heading, new() { Name = "Sign on" }).WaitForAsync();
        await Page.EvaluateAsync("() => navigator.serviceWorker.ready");
    }

    public async Task SignOnAsync(Worker worker)
    {
        PersonCredential person = _plant.Credentials.Person(worker.Id);
        await Page.GetByLabel("Badge", new() { Exact = true }).FillAsync(person.Id);
        await Page.GetByLabel("PIN", new() { Exact = true }).FillAsync(person.Pin);
        await Page.GetByRole(AriaRole.Button, new() { Name = "Sign on" }).ClickAsync();
        await Page.GetByRole(AriaRole.Button, new() { Name = "Sign off" }).WaitForAsync();
    }

    /// <summary>What this browser's store keeps of a person who signed on here.</summary>
    public async Task<System.Text.Json.JsonElement> KeptAsync(string person) => (await Page.EvaluateAsync("""
        person => new Promise((resolve, reject) => {
          const open = indexedDB.open("traceability-kiosk");
          open.onerror = () => reject(open.error);
          open.onsuccess = () => {
            const get = open.result.transaction("people").objectStore("people").get(person);
            get.onsuccess = () => { open.result.close(); resolve(get.result); };
          };
        })
        """, person))!.Value;

    /// <summary>Whether a script of the kiosk's own page gets at the bytes of the key that PINs are checked with.</summary>
    public Task<bool> PinKeyCanBeReadOutAsync() => Page.EvaluateAsync<bool>("""
        () => new Promise((resolve, reject) => {
          const open = indexedDB.open("traceability-kiosk");
          open.onerror = () => reject(open.error);
          open.onsuccess = () => {
            const get = open.result.transaction("keys").objectStore("keys").get("pins");
            get.onsuccess = async () => {
              open.result.close();
              if (!(get.result instanceof CryptoKey)) { reject(new Error("no key is there")); return; }
              try { await crypto.subtle.exportKey("raw", get.result); resolve(true); } catch { resolve(false); }
            };
          };
        })
        """);

    public async Task SignOffAsync()
    {
        await Page.GetByRole(AriaRole.Button, new() { Name = "Sign off" }).ClickAsync();
        await Page.GetByRole(AriaRole.Heading, new() { Name = "Sign on" }).WaitForAsync();
    }

    /// <summary>Opens a unit by pressing its way there, as a person does; also works without a network.</summary>
    public async Task OpenUnitAsync(string unit)
    {
        await Page.GetByRole(AriaRole.Link, new() { Name = "Units", Exact = true }).ClickAsync();
        await Page.GetByRole(AriaRole.Link, new() { Name = unit }).ClickAsync();
        await Page.GetByRole(AriaRole.Heading, new() { Name = unit, Exact = true }).WaitForAsync();
    }

    /// <summary>Fills the cage form as the schedule has it, from the heats in the rack, and asks how it is judged.</summary>
    public async Task FillCageAsync(string unit, string cage)
    {
        await OpenUnitAsync(unit);
        await Page.GetByRole(AriaRole.Link, new() { Name = "Cage tied" }).ClickAsync();
        await Page.GetByLabel("Cage number, as on its tag").FillAsync(cage);
        foreach (var mark in new[] { "A1", "A2", "B1" })
            await Page.GetByRole(AriaRole.Group, new() { Name = $"Heats of mark {mark}" }).GetByRole(AriaRole.Checkbox).First.CheckAsync();
        await JudgeAsync();
    }

    /// <summary>Fills the close-up form: everything as drawn, one cover reading per bar mark.</summary>
    public async Task FillCloseUpAsync(string unit, string cage, string coverOfA1)
    {
        await OpenUnitAsync(unit);
        await Page.GetByRole(AriaRole.Link, new() { Name = "Close-up inspection" }).ClickAsync();
        await Page.GetByLabel("Cage in the form, as on its tag").FillAsync(cage);
        foreach (var (mark, count, spacing, lap, place, cover) in new[]
        {
            ("A1", "36", "6", "24", "inside face, north end", coverOfA1), ("A2", "24", "6", "", "soffit, midspan", "1 1/2"), ("B1", "52", "12", "19", "inside face, south end", "2"),
        })
        {
            await Page.GetByLabel($"Bars counted of mark {mark}", new() { Exact = true }).FillAsync(count);
            await Page.GetByLabel($"Spacing of mark {mark}", new() { Exact = true }).FillAsync(spacing);
            if (lap.Length > 0) await Page.GetByLabel($"Shortest lap of mark {mark}", new() { Exact = true }).FillAsync(lap);
            await Page.Locator($"#place-{mark}-1").FillAsync(place);
            await Page.GetByLabel($"Cover 1 of mark {mark}", new() { Exact = true }).FillAsync(cover);
        }

        foreach (var (question, answer) in new[] { ("Spacers in place?", "Yes"), ("Inserts and sleeves in place?", "Yes"), ("Lifters in place?", "Yes"), ("Oil on the steel?", "No") })
            await Page.GetByRole(AriaRole.Group, new() { Name = question }).GetByLabel(answer).CheckAsync();
        await Page.GetByLabel("TAPE-4").CheckAsync();
        await Page.GetByLabel("CVM-2").CheckAsync();
        await JudgeAsync();
    }

    public async Task JudgeAsync()
    {
        await Page.GetByRole(AriaRole.Button, new() { Name = "See how it is judged" }).ClickAsync();
        await Page.Locator("#review").WaitForAsync();
    }

    /// <summary>Commits what was judged, and returns when the kiosk says that it is saved.</summary>
    public async Task RecordAsync()
    {
        await Page.GetByRole(AriaRole.Button, new() { NameRegex = new("^Record it") }).ClickAsync();
        await Page.GetByRole(AriaRole.Heading, new() { NameRegex = new("saved here") }).WaitForAsync();
    }

    public Task OpenEntriesAsync() => Page.GetByRole(AriaRole.Navigation).GetByRole(AriaRole.Link, new() { NameRegex = new("^Entries") }).ClickAsync();

    /// <summary>Number, state and content hash of every entry shown on the entries page, oldest first.</summary>
    public async Task<List<(long Sequence, string State, string Hash)>> EntriesAsync()
    {
        await Page.GetByRole(AriaRole.Heading, new() { Name = "Entries of this kiosk" }).WaitForAsync();
        var entries = new List<(long, string, string)>();
        foreach (var item in await Page.Locator("[data-sequence]").AllAsync())
        {
            entries.Add((long.Parse((await item.GetAttributeAsync("data-sequence"))!, System.Globalization.CultureInfo.InvariantCulture),
                (await item.GetAttributeAsync("data-state"))!, (await item.Locator("code").Last.TextContentAsync())!));
        }

        entries.Reverse();
        return entries;
    }

    /// <summary>Waits until every entry on the entries page has a state.</summary>
    public Task EntriesReachAsync(string state, int count) =>
        RunningPlant.EventuallyAsync(async () => await Page.Locator($"[data-state={state}]").CountAsync() == count, $"{count} entries are {state}");

    public Task PictureAsync(string name) =>
        Page.ScreenshotAsync(new() { Path = Path.Combine(RunningPlant.Screens, name + ".png"), FullPage = true });

    private List<Process> Mine()
    {
        var mine = new List<Process>();
        foreach (var process in Process.GetProcesses())
        {
            try
            {
                if (File.ReadAllText($"/proc/{process.Id}/cmdline").Contains(_profile, StringComparison.Ordinal)
                    && !File.ReadAllText($"/proc/{process.Id}/stat").Contains(") Z ", StringComparison.Ordinal))
                {
                    mine.Add(process);
                    continue;
                }
            }
            catch (IOException)
            {
                // Gone in the meantime.
            }

            process.Dispose();
        }

        return mine;
    }

    public async ValueTask DisposeAsync()
    {
        await Context.CloseAsync();
        _playwright.Dispose();
    }
}
