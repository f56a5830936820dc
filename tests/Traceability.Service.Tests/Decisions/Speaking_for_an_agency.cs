using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.PlantSimulator.Story.Weeks;
using Traceability.Service.Decisions;
using Traceability.Service.Operations;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Decisions;

/// <summary>An agency speaks through its own inspectors and its letters: what another's inspector or the plant would say or change for it is refused.</summary>
public sealed class Speaking_for_an_agency : IAsyncLifetime
{
    private const string Agency = "Invented Highway Agency";

    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    private PlantHost _host = null!;
    private HttpClient _engineer = null!, _own = null!, _other = null!;
    private Scenario _story = null!;
    private string _unit = null!;

    public async Task InitializeAsync()
    {
        _host = await PlantHost.StartAsync(false, ["web"], "--Scenario:Clock=true");
        _engineer = await _host.SignInAsync(Plant.QualityEngineer);
        _own = await _host.SignInAsync(Plant.NorthInspector);
        _other = await _host.SignInAsync(Plant.WestInspector);
        _story = PlantStory.RigidFrame(81, 1, PlantStory.StartFor(1, Now));
        _unit = _story.Units[0];
        var until = _story.Releases[0].At;
        await _host.SendAsync(_story.Facts.Where(f => f.ArrivesAt <= until));
        _host.Services.GetRequiredService<ScenarioClock>().Set(until);
        await AssignAsync(Plant.WestInspector, "Another Invented Agency");
    }

    public async Task DisposeAsync()
    {
        foreach (var http in new[] { _engineer, _own, _other }) http.Dispose();
        await _host.DisposeAsync();
    }

    private string Pin(Worker worker) => _host.Credentials.Person(worker.Id).Pin;

    private static async Task<(HttpStatusCode Status, JsonElement Answer)> PostAsync(HttpClient http, string path, object body)
    {
        using var answer = await http.PostAsJsonAsync("/v1/decisions/" + path, body);
        return (answer.StatusCode, await answer.Content.ReadFromJsonAsync<JsonElement>());
    }

    private async Task AssignAsync(Worker inspector, string agency, string from = "2026-01-01", string? through = null) =>
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "inspector-assignments", new { person = inspector.Id, agency, from, through, pin = Pin(Plant.QualityEngineer) })).Status);

    private static string Kind((HttpStatusCode Status, JsonElement Answer) said) => said.Answer.GetProperty("type").GetString()!;

    private object Stamp(Worker by, string stamp = "S-1") => new { act = "unit.stamped", data = new { unit = _unit, stamp }, pin = Pin(by) };

    private Task<long> RecordsAsync() => _host.ScalarAsync("select count(*) from trace.record");

    private async Task<string> UploadAsync(byte[] bytes)
    {
        using var answer = await _engineer.PostAsync("/v1/documents", new ByteArrayContent(bytes));
        Assert.Equal(HttpStatusCode.Created, answer.StatusCode);
        return (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("sha256").GetString()!;
    }

    [Fact]
    public async Task An_inspector_acts_for_the_own_agency_alone_and_only_in_the_days_of_the_assignment()
    {
        var before = await RecordsAsync();
        var refused = await PostAsync(_other, "agency-acts", Stamp(Plant.WestInspector));
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/other-agency"), (refused.Status, Kind(refused)));
        Assert.Contains(Agency, refused.Answer.GetProperty("detail").GetString(), StringComparison.Ordinal);
        Assert.Equal(before, await RecordsAsync());
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_own, "agency-acts", Stamp(Plant.NorthInspector))).Status);

        await AssignAsync(Plant.WestInspector, Agency, "2026-01-01", "2026-01-31");
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(_other, "agency-acts", Stamp(Plant.WestInspector))).Status);
        await AssignAsync(Plant.WestInspector, Agency);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_other, "agency-acts", Stamp(Plant.WestInspector))).Status);
    }

    [Fact]
    public async Task What_the_inspector_said_is_changed_by_that_agencys_inspectors_alone()
    {
        var record = (await PostAsync(_own, "agency-acts", Stamp(Plant.NorthInspector))).Answer.GetProperty("record").GetGuid();
        object Correct(Worker by) => new { record, replacedVersion = 1, data = new { unit = _unit, stamp = "S-2" }, reason = "another number on the stamp", pin = Pin(by), secondApprover = Plant.Inspector.Id, secondPin = Pin(Plant.Inspector) };
        object Withdraw(Worker by, int version = 1) => new { record, withdrawnVersion = version, reason = "stamped the wrong one", pin = Pin(by), secondApprover = Plant.Inspector.Id, secondPin = Pin(Plant.Inspector) };
        var before = await RecordsAsync();
        Assert.Equal("/problems/agencys-own", Kind(await PostAsync(_engineer, "corrections", Correct(Plant.QualityEngineer))));
        Assert.Equal("/problems/agencys-own", Kind(await PostAsync(_engineer, "withdrawals", Withdraw(Plant.QualityEngineer))));
        Assert.Equal("/problems/other-agency", Kind(await PostAsync(_other, "corrections", Correct(Plant.WestInspector))));
        Assert.Equal("/problems/other-agency", Kind(await PostAsync(_other, "withdrawals", Withdraw(Plant.WestInspector))));
        Assert.Equal(before, await RecordsAsync());

        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_own, "corrections", Correct(Plant.NorthInspector))).Status);
        // A colleague of the same agency may, too.
        await AssignAsync(Plant.WestInspector, Agency);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_other, "withdrawals", Withdraw(Plant.WestInspector, 2))).Status);
    }

    [Fact]
    public async Task A_correction_does_not_move_the_agencys_word_to_another_agencys_unit()
    {
        var record = (await PostAsync(_own, "agency-acts", Stamp(Plant.NorthInspector))).Answer.GetProperty("record").GetGuid();
        var opened = (ContractOpened)FactCatalog.Read(FactCatalog.Of<ContractOpened>(), _story.Facts.First(f => f.Event.Type == "contract.opened.v1").Event.Data);
        var scheduled = (UnitScheduled)FactCatalog.Read(FactCatalog.Of<UnitScheduled>(), _story.Facts.First(f => f.Event.Type == "unit.scheduled.v1").Event.Data);
        await SendAsync(opened with { Contract = "C-OTHER", Agency = "Another Invented Agency" }, scheduled with { Unit = "X-OTHER", Contract = "C-OTHER" });
        var moved = await PostAsync(_own, "corrections", new { record, replacedVersion = 1, data = new { unit = "X-OTHER", stamp = "S-1" }, reason = "it was that one", pin = Pin(Plant.NorthInspector), secondApprover = Plant.Inspector.Id, secondPin = Pin(Plant.Inspector) });
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/other-agency"), (moved.Status, Kind(moved)));
    }

    [Fact]
    public async Task The_plant_enters_a_letter_only_when_its_bytes_are_kept_and_fixes_its_slip_with_a_second_person()
    {
        var letter = new Paper("Letter A-1");
        object Ask(string sha256) => new { act = "unit.stamped", data = new { unit = _unit, stamp = "S-7" }, pin = Pin(Plant.QualityEngineer), letter = new { title = letter.Title, sha256 } };
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "agency-acts", Ask(letter.Sha256))).Status);
        Assert.Equal(letter.Sha256, await UploadAsync(letter.Bytes));
        var entered = await PostAsync(_engineer, "agency-acts", Ask(letter.Sha256));
        Assert.Equal(HttpStatusCode.Created, entered.Status);

        object Fix(string? sha256, string? second) => new
        {
            record = entered.Answer.GetProperty("record").GetGuid(), replacedVersion = 1, data = sha256 is null ? (object)new { unit = _unit, stamp = "S-8" } : new { unit = _unit, stamp = "S-8", letterSha256 = sha256 },
            reason = "read the number wrong", pin = Pin(Plant.QualityEngineer), secondApprover = second, secondPin = second is null ? null : Pin(Plant.Inspector),
        };
        Assert.Equal("/problems/second-approver", Kind(await PostAsync(_engineer, "corrections", Fix(letter.Sha256, null))));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "corrections", Fix(null, Plant.Inspector.Id))).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "corrections", Fix(new string('0', 64), Plant.Inspector.Id))).Status);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "corrections", Fix(letter.Sha256, Plant.Inspector.Id))).Status);
    }

    [Fact]
    public async Task A_letter_comes_back_byte_for_byte_and_what_is_too_large_or_no_document_is_not_kept()
    {
        var letter = new Paper("Letter (A) 2");
        var hash = await UploadAsync(letter.Bytes);
        Assert.Equal(hash, await UploadAsync(letter.Bytes));
        using (var answer = await _engineer.GetAsync("/v1/documents/" + hash))
        {
            Assert.Equal(letter.Bytes, await answer.Content.ReadAsByteArrayAsync());
            Assert.Equal(("application/pdf", "attachment", "nosniff"), (answer.Content.Headers.ContentType!.MediaType, answer.Content.Headers.ContentDisposition!.DispositionType, answer.Headers.GetValues("X-Content-Type-Options").Single()));
        }

        async Task<HttpStatusCode> TryAsync(byte[] bytes)
        {
            using var answer = await _engineer.PostAsync("/v1/documents", new ByteArrayContent(bytes));
            return answer.StatusCode;
        }

        Assert.Equal(HttpStatusCode.UnsupportedMediaType, await TryAsync("<html><script>alert(1)</script></html>"u8.ToArray()));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, await TryAsync([]));
        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, await TryAsync([.. letter.Bytes, .. new byte[Letters.Largest]]));
        Assert.Equal(1, await _host.ScalarAsync("select count(*) from trace.document"));
    }

    private async Task SendAsync(params IFact[] facts) => await _host.SendAsync(facts.Select(f => Sent(Plant.Office, Plant.QualityEngineer.Id, f)));

    private StoryFact Sent(Station station, string person, IFact fact, DateTimeOffset? at = null)
    {
        var time = at ?? _story.Releases[0].At.AddMinutes(-10);
        return new(CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
        {
            specversion = "1.0", id = Guid.NewGuid().ToString(), source = station.Source, type = FactCatalog.Of(fact).Type, time = time.ToString("O", System.Globalization.CultureInfo.InvariantCulture), person, data = FactCatalog.Write(fact),
        })), station.Device, time, false);
    }

    [Fact]
    public async Task From_a_station_only_an_assigned_inspector_speaks_and_nobody_changes_what_an_agency_did()
    {
        var stamp = Sent(Plant.AgencyDesk, Plant.NorthInspector.Id, new UnitStamped(_unit, "S-3"));
        await _host.SendAsync([stamp]);
        Assert.Equal(1, await _host.ScalarAsync("select count(*) from trace.record where type = 'unit.stamped.v1'"));
        await _host.SendAsync(
        [
            Sent(Plant.Office, Plant.QualityEngineer.Id, new UnitStamped(_unit, "S-4", new Paper("x").Sha256)),
            Sent(Plant.AgencyDesk, Plant.NorthInspector.Id, new RecordWithdrawn(stamp.Event.RecordId, 1, "not from a station")),
            Sent(Plant.Office, Plant.QualityEngineer.Id, new RecordWithdrawn(stamp.Event.RecordId, 1, "nor by the plant")),
            Sent(Plant.Office, Plant.QualityEngineer.Id, new RecordCorrected(stamp.Event.RecordId, 1, "unit.stamped.v1", stamp.Event.Data, "nor so", null)),
        ]);
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.record where type in ('record.withdrawn.v1', 'record.corrected.v1')"));
        Assert.Equal(4, await _host.ScalarAsync("select count(*) from trace.quarantine where cleared_at is null"));
        Assert.Equal(1, await _host.ScalarAsync("select count(*) from trace.record where type = 'unit.stamped.v1'"));
    }

    [Fact]
    public async Task Clearing_does_not_let_through_what_nobody_assigned_said()
    {
        using var administrator = await _host.SignInAsync(Plant.Administrator);
        await _host.ExecuteAsync("delete from trace.record where type = 'inspector.assigned.v1' and stream = 'person:p-202'");
        var stamp = Sent(Plant.AgencyDesk, Plant.WestInspector.Id, new UnitStamped(_unit, "S-5"));
        await _host.SendAsync([stamp]);
        using var cleared = await administrator.PostAsJsonAsync($"/v1/quarantine/{stamp.Event.RecordId}/clear", new { contentHash = stamp.Event.ContentHash });
        Assert.Equal(HttpStatusCode.Conflict, cleared.StatusCode);
        Assert.Contains("assigned to no agency", await cleared.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(1, await _host.ScalarAsync("select count(*) from trace.quarantine where cleared_at is null"));
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.record where type = 'unit.stamped.v1'"));
        // The assignment may arrive after what the inspector sent.
        await AssignAsync(Plant.WestInspector, Agency);
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.quarantine where cleared_at is null"));
        Assert.Equal(1, await _host.ScalarAsync("select count(*) from trace.record where type = 'unit.stamped.v1'"));
    }

    [Fact]
    public async Task What_another_agencys_inspector_sends_from_its_tablet_is_recorded_and_counts_for_nothing()
    {
        await SendAsync(Profile(new HoldRule(HoldKind.Pour, HoldAuthority.AgencyHold)), Adopted);
        await _host.SendAsync([Sent(Plant.AgencyDesk, Plant.WestInspector.Id, new AgencyHoldReleased(_unit, HoldKind.Pour))]);
        var judged = await _host.JudgeAsync(_unit, _story.Releases[0].At);
        Assert.Contains(judged.Findings, f => f.Requirement == "pour.agency" && f.Verdict == Verdict.Pending && f.Reason.Contains($"p-202 was not an inspector of {Agency}", StringComparison.Ordinal));
        await _host.SendAsync([Sent(Plant.AgencyDesk, Plant.NorthInspector.Id, new AgencyHoldReleased(_unit, HoldKind.Pour))]);
        Assert.Contains((await _host.JudgeAsync(_unit, _story.Releases[0].At)).Findings, f => f.Requirement == "pour.agency" && f.Verdict == Verdict.Met);
    }

    private ProfilePublished Profile(params HoldRule[] holds)
    {
        var published = (ProfilePublished)FactCatalog.Read(FactCatalog.Of<ProfilePublished>(), _story.Facts.First(f => f.Event.Type == "profile.published.v1").Event.Data);
        return published with { Version = 99, Holds = holds };
    }

    private ProfileAdopted Adopted
    {
        get
        {
            var opened = (ContractOpened)FactCatalog.Read(FactCatalog.Of<ContractOpened>(), _story.Facts.First(f => f.Event.Type == "contract.opened.v1").Event.Data);
            return new(opened.Contract, opened.Profile, 99, "for this test");
        }
    }

    [Fact]
    public async Task A_release_by_telephone_names_who_when_and_the_words_and_waits_for_its_confirmation()
    {
        object Call(Worker speaker, string words = "go ahead") => new { act = "agency-hold.released", data = new { unit = _unit, hold = "pour", telephone = new { speaker = speaker.Id, saidAt = _story.Releases[0].At.AddMinutes(-2), words } }, pin = Pin(Plant.QualityEngineer) };
        Assert.Equal("/problems/no-telephone", Kind(await PostAsync(_engineer, "agency-acts", Call(Plant.NorthInspector))));
        await SendAsync(Profile(new HoldRule(HoldKind.Pour, HoldAuthority.AgencyHold, TelephoneHours: Core.Quantities.Reading.Parse("24"))), Adopted);
        Assert.Equal("/problems/other-agency", Kind(await PostAsync(_engineer, "agency-acts", Call(Plant.WestInspector))));
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "agency-acts", Call(Plant.NorthInspector))).Status);
        Finding Agencys(Judgement judged) => judged.Findings.Single(f => f.Requirement == "pour.agency");
        var called = Agencys(await _host.JudgeAsync(_unit, _story.Releases[0].At.AddMinutes(1)));
        Assert.Equal(Verdict.Provisional, called.Verdict);
        Assert.Contains("go ahead", called.Reason, StringComparison.Ordinal);
        Assert.Contains("Confirmation due by", called.Reason, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_own, "agency-acts", new { act = "agency-hold.released", data = new { unit = _unit, hold = "pour" }, pin = Pin(Plant.NorthInspector) })).Status);
        Assert.Equal(Verdict.Met, Agencys(await _host.JudgeAsync(_unit, _story.Releases[0].At.AddMinutes(1))).Verdict);
    }

    [Fact]
    public async Task An_assignment_is_entered_on_its_page_and_stands_in_the_list()
    {
        using var taken = await _engineer.PostFormAsync("/inspectors", "/inspectors", ("person", Plant.WestInspector.Id), ("agency", Agency), ("from", "2026-02-01"), ("through", "2026-02-28"), ("pin", Pin(Plant.QualityEngineer)));
        var text = PageVisitor.Text(await taken.Content.ReadAsStringAsync());
        Assert.Contains($"{Plant.WestInspector.Id} acts for {Agency}", text, StringComparison.Ordinal);
        Assert.Contains("Another Invented Agency", text, StringComparison.Ordinal);
        var before = await RecordsAsync();
        using var wrong = await _engineer.PostFormAsync("/inspectors", "/inspectors", ("person", Plant.WestInspector.Id), ("agency", Agency), ("from", "2026-02-01"), ("pin", "000000"));
        Assert.Contains("PIN", PageVisitor.Text(await wrong.Content.ReadAsStringAsync()), StringComparison.Ordinal);
        Assert.Equal((HttpStatusCode.Forbidden, before), (wrong.StatusCode, await RecordsAsync()));
    }

    [Fact]
    public async Task Nobody_is_assigned_who_is_no_agency_inspector_and_nobody_assigns_without_the_duty()
    {
        object Ask(string person, Worker by) => new { person, agency = Agency, from = "2026-01-01", pin = Pin(by) };
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "inspector-assignments", Ask(Plant.Inspector.Id, Plant.QualityEngineer))).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "inspector-assignments", Ask("p-999", Plant.QualityEngineer))).Status);
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(_own, "inspector-assignments", Ask(Plant.WestInspector.Id, Plant.NorthInspector))).Status);
        using var administrator = await _host.SignInAsync(Plant.Administrator);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(administrator, "inspector-assignments", Ask(Plant.WestInspector.Id, Plant.Administrator))).Status);
    }
}
