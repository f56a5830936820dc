using System.Security.Cryptography;
using System.Text.Json;
using System.Text.RegularExpressions;
using Deque.AxeCore.Playwright;
using Microsoft.Playwright;
using Traceability.Browser.Tests.Hosting;
using Traceability.Core.Dossiers;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Browser.Tests;

/// <summary>The published kiosk in a real Chromium against the real service.</summary>
[Collection(PlantCollection.Name)]
public sealed class KioskTests(RunningPlant plant)
{
    private async Task<List<Record>> RecordsOfAsync(string unit)
    {
        var dossier = Dossier.Read(await plant.GetBytesAsync($"/v1/units/{unit}/dossier"), _ => PlantStory.Time);
        return [.. dossier.Records.Where(r => r.Sent.Source.StartsWith("/kiosk/", StringComparison.Ordinal)).OrderBy(r => r.Position)];
    }

    [Fact]
    public async Task Entries_made_offline_survive_a_killed_browser_and_are_recorded_once_in_sequence_under_the_device_key()
    {
        var (first, second) = (plant.Units[0], plant.Units[1]);
        var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.EnrolAsync("Cage shop 1");
        await kiosk.SignOnAsync(Plant.CageForeman);
        await kiosk.Page.GetByText("Papers as of").WaitForAsync();
        await kiosk.SignOffAsync();

        await kiosk.Context.SetOfflineAsync(true);
        await kiosk.SignOnAsync(Plant.CageForeman);
        await kiosk.Page.GetByText("signed on without connection").WaitForAsync();
        await kiosk.FillCageAsync(first, "CG-11");
        await kiosk.Page.GetByRole(AriaRole.Heading, new() { Name = "Nothing to fix" }).WaitForAsync();
        await kiosk.RecordAsync();
        await kiosk.FillCageAsync(second, "CG-12");
        await kiosk.RecordAsync();
        await kiosk.OpenEntriesAsync();
        var waiting = await kiosk.EntriesAsync();
        Assert.Equal([(1, "SavedHere"), (2, "SavedHere")], waiting.Select(e => (e.Sequence, e.State)));
        await kiosk.PictureAsync("entries-waiting");

        kiosk = await kiosk.KillAndStartAgainAsync(offline: true);
        await using var again = kiosk;
        await kiosk.OpenAsync("entries");
        Assert.Equal(waiting, await kiosk.EntriesAsync());
        Assert.Empty(await RecordsOfAsync(first));

        await kiosk.Context.SetOfflineAsync(false);
        await kiosk.EntriesReachAsync("Sealed", 2);
        var records = (await RecordsOfAsync(first)).Concat(await RecordsOfAsync(second)).ToList();
        Assert.Equal(waiting.Select(e => e.Hash), records.Select(r => r.Sent.ContentHash));
        Assert.Equal([1, 2], records.Select(r => r.Sent.DeviceSeq));
        Assert.Equal([null, waiting[0].Hash], records.Select(r => r.Sent.DevicePrev));
        Assert.All(records, r => Assert.Equal("device-key", r.Assurance));
        var enrolled = await plant.RowsAsync($"select convert_from(bytes, 'UTF8')::jsonb #>> '{{fact,data,publicKey}}' from trace.record where type = 'device.enrolled.v1' and convert_from(bytes, 'UTF8')::jsonb #>> '{{fact,data,device}}' = '{records[0].Device}'");
        using var key = ECDsa.Create();
        key.ImportSubjectPublicKeyInfo(Convert.FromBase64String(enrolled[0][0]), out _);
        Assert.All(records, r => Assert.True(key.VerifyData(DeviceSignature.Text(r.Sent.ContentHash), Convert.FromBase64String(r.Signature!.Value), HashAlgorithmName.SHA256, DSASignatureFormat.IeeeP1363FixedFieldConcatenation)));
        Assert.All(records, r => Assert.Equal("pin-offline", r.Sent.Assurance));
        Assert.All(records, r => Assert.NotNull(r.Sent.ClockOffsetMs));
        var stored = await plant.RowsAsync($"select source, event_id, count(*) from trace.record where device = '{records[0].Device}' group by 1, 2");
        Assert.Equal(2, stored.Count);
        Assert.All(stored, row => Assert.Equal("1", row[2]));
    }

    [Fact]
    public async Task Remarks_that_name_somebody_who_signed_on_here_are_warned_of_before_they_are_recorded_without_the_service_too()
    {
        await using var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.EnrolAsync("Form hall 7");
        await kiosk.SignOnAsync(Plant.CageForeman);
        await kiosk.Page.GetByText("Papers as of").WaitForAsync();
        await kiosk.SignOffAsync();
        await kiosk.SignOnAsync(Plant.Inspector);
        await kiosk.OpenUnitAsync(plant.Units[1]);
        await kiosk.Context.SetOfflineAsync(true);
        await kiosk.Page.GetByRole(AriaRole.Link, new() { Name = "Pre-pour inspection" }).ClickAsync();
        await kiosk.Page.GetByRole(AriaRole.Group, new() { Name = "Form tight?" }).GetByLabel("Yes").CheckAsync();
        await kiosk.Page.GetByLabel("Remarks").FillAsync("Shimmed by the " + Plant.CageForeman.Duty);
        await kiosk.JudgeAsync();

        var warning = kiosk.Page.GetByText("This text names a person. Records cannot be erased; write the badge id instead.");
        await warning.WaitForAsync();
        await kiosk.PictureAsync("remarks-name-a-person");
        Assert.True(await kiosk.Page.GetByRole(AriaRole.Button, new() { NameRegex = new("^Record it") }).IsEnabledAsync());

        await kiosk.Page.GetByRole(AriaRole.Button, new() { Name = "Change it" }).ClickAsync();
        await kiosk.Page.GetByLabel("Remarks").FillAsync($"Shimmed by {Plant.CageForeman.Id}");
        await kiosk.JudgeAsync();
        Assert.Equal(0, await warning.CountAsync());
    }

    [Fact]
    public async Task The_kiosk_starts_without_the_service_and_delivers_when_it_is_back()
    {
        var unit = plant.Units[2];
        await using var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.EnrolAsync("Cage shop 2");
        await kiosk.SignOnAsync(Plant.CageForeman);
        await kiosk.Page.GetByText("Papers as of").WaitForAsync();

        await plant.KillAsync();
        try
        {
            await kiosk.Page.ReloadAsync();
            await kiosk.SignOnAsync(Plant.CageForeman);
            await kiosk.FillCageAsync(unit, "CG-21");
            await kiosk.RecordAsync();
            await kiosk.Page.GetByText("No connection. 1 saved here").WaitForAsync();
        }
        finally
        {
            await plant.StartAsync();
        }

        await kiosk.OpenEntriesAsync();
        await kiosk.EntriesReachAsync("Sealed", 1);
        Assert.Single(await RecordsOfAsync(unit));
    }

    [Fact]
    public async Task A_reading_out_of_tolerance_shows_its_limit_and_remedy_before_commit_and_is_recorded_as_read()
    {
        var unit = plant.Units[3];
        await using var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.EnrolAsync("Form hall 1");
        await kiosk.SignOnAsync(Plant.CageForeman);
        await kiosk.FillCageAsync(unit, "CG-31");
        await kiosk.RecordAsync();
        await kiosk.SignOffAsync();
        await kiosk.SignOnAsync(Plant.Inspector);
        await kiosk.FillCloseUpAsync(unit, "CG-31", "1 1/4");

        await kiosk.Page.GetByRole(AriaRole.Heading, new() { Name = "1 thing to fix" }).WaitForAsync();
        var finding = kiosk.Page.Locator("article.act-card");
        Assert.Equal(1, await finding.CountAsync());
        var text = await finding.InnerTextAsync();
        Assert.Contains("Not met", text);
        Assert.Matches(@"Limit\s+2 in specified, at least 1\.5 in", text);
        Assert.Matches(@"Observed\s+1 1/4 in", text);
        Assert.Matches(@"What to do\s+The crew moves the steel", text);
        Assert.Single(await RecordsOfAsync(unit));

        await kiosk.RecordAsync();
        // The same bad reading again is not "nothing to fix" because it changes nothing.
        await kiosk.FillCloseUpAsync(unit, "CG-31", "1 1/4");
        await kiosk.Page.GetByRole(AriaRole.Heading, new() { Name = "1 thing to fix" }).WaitForAsync();
        await kiosk.OpenEntriesAsync();
        await kiosk.EntriesReachAsync("Sealed", 2);
        await kiosk.Page.GetByText("1 flagged when recorded").WaitForAsync();
        var cover = (await RecordsOfAsync(unit))[1].Fact as Core.Events.CloseUpInspected;
        Assert.Equal("1 1/4", cover!.Covers.Single(c => c.BarMark == "A1").CoverIn.Text);
    }

    [Fact]
    public async Task What_the_kiosk_judges_equals_what_the_service_judges_by_hash()
    {
        var unit = plant.Units[4];
        await using var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.EnrolAsync("Cage shop 3");
        await kiosk.SignOnAsync(Plant.CageForeman);
        await kiosk.Page.GetByText("Papers as of").WaitForAsync();
        await kiosk.OpenUnitAsync(unit);
        await kiosk.Page.GetByText("How this was judged").ClickAsync();
        await EqualAsync();

        // An entry that only the kiosk knows is judged there as the service judges it once it is recorded.
        await kiosk.Context.SetOfflineAsync(true);
        await kiosk.FillCageAsync(unit, "CG-41");
        await kiosk.RecordAsync();
        await kiosk.OpenUnitAsync(unit);
        await kiosk.Page.GetByText("How this was judged").ClickAsync();
        await kiosk.Page.GetByText("with 1 of this kiosk's own that the log does not have yet").WaitForAsync();
        var alone = await kiosk.Page.Locator("#judgement-hash").TextContentAsync();
        await kiosk.Context.SetOfflineAsync(false);
        await RunningPlant.EventuallyAsync(async () => (await RecordsOfAsync(unit)).Count == 1, "the entry is recorded");
        Assert.Equal((await plant.GetAsync($"/v1/units/{unit}")).GetProperty("judgement").GetString(), alone);

        async Task EqualAsync()
        {
            var here = await kiosk.Page.Locator("#judgement-hash").TextContentAsync();
            var there = await plant.GetAsync($"/v1/units/{unit}");
            Assert.Equal(there.GetProperty("judgement").GetString(), here);
            var outside = Judge.Dossier(Dossier.Read(await plant.GetBytesAsync($"/v1/units/{unit}/dossier"), _ => PlantStory.Time), TimeProvider.System.GetUtcNow());
            Assert.Equal(outside.Hash, here);
        }
    }

    [Fact]
    public async Task An_entry_of_a_person_without_the_role_is_held_back_and_the_page_says_what_to_do()
    {
        var unit = plant.Units[5];
        await using var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.EnrolAsync("Form hall 2");
        await kiosk.SignOnAsync(Plant.CageForeman);
        await kiosk.OpenUnitAsync(unit);
        await kiosk.Page.GetByText("Your badge does not have the role plant inspector").First.WaitForAsync();
        await kiosk.Page.GetByRole(AriaRole.Link, new() { Name = "Pre-pour inspection" }).ClickAsync();
        await kiosk.Page.GetByRole(AriaRole.Group, new() { Name = "Form tight?" }).GetByLabel("Yes").CheckAsync();
        await kiosk.JudgeAsync();
        await kiosk.RecordAsync();
        await kiosk.OpenEntriesAsync();
        await kiosk.EntriesReachAsync("Quarantined", 1);
        await kiosk.Page.GetByText("does not count until an administrator clears it").WaitForAsync();
        await kiosk.Page.GetByText("does not have the role plant-inspector").WaitForAsync();
        await kiosk.PictureAsync("entries-quarantined");
        Assert.Empty(await RecordsOfAsync(unit));
    }

    [Fact]
    public async Task A_tape_fraction_pressed_on_the_pad_is_kept_as_it_was_read_with_millimetres_beside_it()
    {
        await using var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.EnrolAsync("Form hall 3");
        await kiosk.SignOnAsync(Plant.Inspector);
        await kiosk.OpenUnitAsync(plant.Units[6]);
        await kiosk.Page.GetByRole(AriaRole.Link, new() { Name = "Pre-pour inspection" }).ClickAsync();
        var field = kiosk.Page.GetByLabel("slab thickness", new() { Exact = true });
        await field.FocusAsync();
        var pad = kiosk.Page.GetByRole(AriaRole.Group, new() { Name = "Pad for slab thickness" });
        foreach (var key in new[] { "1", "2", "15/16" }) await pad.GetByRole(AriaRole.Button, new() { Name = key, Exact = true }).ClickAsync();
        Assert.Equal("12 15/16", await field.InputValueAsync());
        await kiosk.Page.GetByText("read 328.6 mm").WaitForAsync();
        await pad.GetByRole(AriaRole.Button, new() { Name = "Del, delete last" }).ClickAsync();
        Assert.Equal("12", await field.InputValueAsync());
        await field.FillAsync("12 5/3");
        await kiosk.Page.GetByText("Type it as read").WaitForAsync();
    }

    [Fact]
    public async Task A_wrong_pin_is_told_and_a_code_enrols_one_kiosk_only()
    {
        var code = await plant.EnrolmentCodeAsync("cage-crew");
        await using var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.OpenAsync();
        await EnrolWithAsync(kiosk, code);
        await kiosk.Page.GetByRole(AriaRole.Heading, new() { Name = "Sign on" }).WaitForAsync();
        await kiosk.Page.GetByLabel("Badge", new() { Exact = true }).FillAsync(Plant.CageForeman.Id);
        await kiosk.Page.GetByLabel("PIN", new() { Exact = true }).FillAsync("wrong");
        await kiosk.Page.GetByRole(AriaRole.Button, new() { Name = "Sign on" }).ClickAsync();
        await kiosk.Page.GetByText("Badge and PIN do not match").WaitForAsync();

        await using var other = await KioskBrowser.StartAsync(plant);
        await other.OpenAsync();
        await EnrolWithAsync(other, code);
        await other.Page.GetByText("mistyped, used up or older").WaitForAsync();

        static async Task EnrolWithAsync(KioskBrowser kiosk, string code)
        {
            await kiosk.Page.GetByLabel("Code").FillAsync(code);
            await kiosk.Page.GetByLabel("Name of this kiosk").FillAsync("Any");
            await kiosk.Page.GetByRole(AriaRole.Button, new() { Name = "Enroll" }).ClickAsync();
        }
    }

    [Fact]
    public async Task A_kiosk_forgets_who_left_at_its_next_contact_and_what_it_keeps_of_a_pin_is_good_for_nothing_elsewhere()
    {
        await using var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.EnrolAsync("Cage shop 5");
        await kiosk.SignOnAsync(Plant.PourForeman);
        await kiosk.Page.GetByText("Papers as of").WaitForAsync();
        await kiosk.SignOffAsync();
        var kept = await kiosk.KeptAsync(Plant.PourForeman.Id);
        var check = kept.GetProperty("check");
        var stretched = System.Security.Cryptography.Rfc2898DeriveBytes.Pbkdf2(plant.Credentials.Person(Plant.PourForeman.Id).Pin, Convert.FromBase64String(check.GetProperty("salt").GetString()!),
            check.GetProperty("iterations").GetInt32(), System.Security.Cryptography.HashAlgorithmName.SHA256, 32);
        Assert.DoesNotContain(Convert.ToBase64String(stretched), kept.GetRawText(), StringComparison.Ordinal);
        Assert.DoesNotContain(Convert.ToBase64String(System.Security.Cryptography.SHA256.HashData(stretched)), kept.GetRawText(), StringComparison.Ordinal);
        Assert.False(await kiosk.PinKeyCanBeReadOutAsync());

        await kiosk.Context.SetOfflineAsync(true);
        await kiosk.SignOnAsync(Plant.PourForeman);
        await kiosk.Page.GetByText("signed on without connection").WaitForAsync();

        await plant.EndRolesAsync(Plant.PourForeman);
        // Contact is enough, the person does not even try: whoever stands there is signed off.
        await kiosk.Context.SetOfflineAsync(false);
        await kiosk.Page.GetByRole(AriaRole.Heading, new() { Name = "Sign on" }).WaitForAsync();
        await kiosk.Context.SetOfflineAsync(true);
        await kiosk.Page.GetByLabel("Badge", new() { Exact = true }).FillAsync(Plant.PourForeman.Id);
        await kiosk.Page.GetByLabel("PIN", new() { Exact = true }).FillAsync(plant.Credentials.Person(Plant.PourForeman.Id).Pin);
        await kiosk.Page.GetByRole(AriaRole.Button, new() { Name = "Sign on" }).ClickAsync();
        await kiosk.Page.GetByText("this badge has not signed on at this kiosk before").WaitForAsync();
        await kiosk.PictureAsync("forgotten");
    }

    [Fact]
    public async Task A_kiosk_left_alone_asks_for_the_pin_again_and_keeps_the_form_for_the_same_person()
    {
        await using var kiosk = await KioskBrowser.StartAsync(plant);
        await kiosk.EnrolAsync("Cage shop 4");
        await kiosk.Context.Clock.InstallAsync();
        await kiosk.OpenAsync();
        await kiosk.SignOnAsync(Plant.CageForeman);
        await kiosk.OpenUnitAsync(plant.Units[6]);
        await kiosk.Page.GetByRole(AriaRole.Link, new() { Name = "Cage tied" }).ClickAsync();
        var cage = kiosk.Page.GetByLabel("Cage number, as on its tag");
        await cage.FillAsync("CG-81");
        await kiosk.Context.Clock.FastForwardAsync("11:00");
        await kiosk.Page.GetByText("Nobody touched this kiosk").WaitForAsync();
        Assert.False(await cage.IsVisibleAsync());
        await kiosk.SignOnAsync(Plant.CageForeman);
        Assert.Equal("CG-81", await cage.InputValueAsync());

        await kiosk.Context.Clock.FastForwardAsync("11:00");
        await kiosk.Page.GetByText("Nobody touched this kiosk").WaitForAsync();
        await kiosk.SignOnAsync(Plant.Inspector);
        await kiosk.Page.GetByRole(AriaRole.Heading, new() { Name = "Units", Exact = true }).WaitForAsync();
        await kiosk.OpenUnitAsync(plant.Units[6]);
        await kiosk.Page.GetByRole(AriaRole.Link, new() { Name = "Cage tied" }).ClickAsync();
        Assert.Equal("", await cage.InputValueAsync());
    }

    [Fact]
    public async Task An_administrator_makes_the_code_on_the_devices_page()
    {
        await using var browser = await KioskBrowser.StartAsync(plant);
        var page = browser.Page;
        var administrator = plant.Credentials.Person(Plant.Administrator.Id);
        await page.GotoAsync(new Uri(plant.Address, "devices").ToString());
        await page.GetByLabel("Person id").FillAsync(administrator.Id);
        await page.GetByLabel("Password").FillAsync(administrator.Password);
        await page.GetByRole(AriaRole.Button, new() { Name = "Sign in" }).ClickAsync();
        await page.GetByLabel("cage crew").CheckAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Make a code" }).ClickAsync();
        var code = (await page.Locator("#code").TextContentAsync())!;
        await browser.PictureAsync("devices");
        Assert.DoesNotContain((await page.RunAxe()).Violations, v => v.Impact is "serious" or "critical");
        await browser.OpenAsync();
        await page.GetByLabel("Code").FillAsync(code);
        await page.GetByLabel("Name of this kiosk").FillAsync("Cage shop 5");
        await page.GetByRole(AriaRole.Button, new() { Name = "Enroll" }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "Sign on" }).WaitForAsync();
    }

    [Theory]
    [InlineData(1280, 800)]
    [InlineData(800, 1280)]
    public async Task Every_page_is_accessible_large_enough_for_gloves_and_fits_the_screen(int width, int height)
    {
        var unit = plant.Units[7];
        var problems = new List<string>();
        await using var kiosk = await KioskBrowser.StartAsync(plant, width, height);
        var page = kiosk.Page;
        await kiosk.OpenAsync();
        await page.GetByLabel("Code").WaitForAsync();
        await LookAsync("enrol");
        await kiosk.EnrolAsync("Form hall 4");
        await LookAsync("sign-on");
        await kiosk.SignOnAsync(Plant.Inspector);
        await page.GetByText("Papers as of").WaitForAsync();
        await LookAsync("units");
        await kiosk.OpenUnitAsync(unit);
        foreach (var summary in await page.Locator("summary").AllAsync()) await summary.ClickAsync();
        await LookAsync("unit");
        await page.GetByRole(AriaRole.Link, new() { Name = "Cage tied" }).ClickAsync();
        await page.GetByRole(AriaRole.Group, new() { Name = "Heats of mark A1" }).GetByRole(AriaRole.Checkbox).First.CheckAsync();
        await page.GetByText("Another heat").First.ClickAsync();
        await LookAsync("cage");
        await kiosk.OpenUnitAsync(unit);
        await page.GetByRole(AriaRole.Link, new() { Name = "Pre-pour inspection" }).ClickAsync();
        await page.GetByLabel("clear span", new() { Exact = true }).FocusAsync();
        await LookAsync("pre-pour");
        await kiosk.FillCloseUpAsync(unit, "CG-71", "1 1/4");
        await LookAsync("close-up-judged");
        await page.GetByRole(AriaRole.Button, new() { Name = "Change it" }).ClickAsync();
        await LookAsync("close-up");
        await kiosk.JudgeAsync();
        await kiosk.RecordAsync();
        await LookAsync("saved");
        await kiosk.OpenEntriesAsync();
        await kiosk.EntriesReachAsync("Sealed", 1);
        await LookAsync("entries");
        await page.GetByRole(AriaRole.Navigation).GetByRole(AriaRole.Link, new() { Name = "Kiosk", Exact = true }).ClickAsync();
        await page.GetByRole(AriaRole.Heading, new() { Name = "This kiosk" }).WaitForAsync();
        await LookAsync("device");
        Assert.True(problems.Count == 0, string.Join("\n", problems));

        async Task LookAsync(string name)
        {
            await kiosk.PictureAsync($"{name}-{width}");
            var axe = await page.RunAxe();
            problems.AddRange(axe.Violations.Where(v => v.Impact is "serious" or "critical")
                .Select(v => $"{name}: {v.Id} ({v.Impact}) {string.Join(" | ", v.Nodes.Select(n => n.Html))}"));
            // A pressed thing is the whole label around a box, so boxes inside labels do not count themselves.
            problems.AddRange((await page.EvaluateAsync<string[]>("""
                () => [...document.querySelectorAll("button, a, summary, label:has(input), input:not([type=checkbox], [type=radio]), textarea")]
                  .filter(e => e.checkVisibility() && !e.matches(".skip"))
                  .map(e => [e.getBoundingClientRect(), e])
                  .filter(([r]) => r.height < 56 || r.width < 44)
                  .map(([r, e]) => `${Math.round(r.width)} x ${Math.round(r.height)} px is too small: ${e.outerHTML.slice(0, 120)}`)
                """)).Select(p => $"{name}: {p}"));
            if (await page.EvaluateAsync<bool>("() => document.documentElement.scrollWidth > innerWidth")) problems.Add($"{name}: wider than the screen");
        }
    }
}
