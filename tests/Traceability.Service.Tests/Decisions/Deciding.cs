using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.PlantSimulator.Story.Weeks;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Decisions;

/// <summary>Decisions beside the release: signed, judged inside the writing transaction, written with their basis or refused with nothing recorded.</summary>
public sealed class Deciding : IAsyncLifetime
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    private PlantHost _host = null!;
    private HttpClient _engineer = null!, _inspector = null!;

    public async Task InitializeAsync()
    {
        _host = await PlantHost.StartAsync(false, ["web"], "--Scenario:Clock=true");
        _engineer = await _host.SignInAsync(Plant.QualityEngineer);
        _inspector = await _host.SignInAsync(Plant.Inspector);
    }

    public async Task DisposeAsync()
    {
        _engineer.Dispose();
        _inspector.Dispose();
        await _host.DisposeAsync();
    }

    private string Pin(Worker worker) => _host.Credentials.Person(worker.Id).Pin;

    private static async Task<(HttpStatusCode Status, JsonElement Answer)> PostAsync(HttpClient http, string path, object body)
    {
        using var answer = await http.PostAsJsonAsync("/v1/decisions/" + path, body);
        return (answer.StatusCode, await answer.Content.ReadFromJsonAsync<JsonElement>());
    }

    private async Task<T> WrittenAsync<T>() where T : IFact
    {
        await using var command = _host.Database.CreateCommand("select bytes from trace.record where type = $1 order by position desc limit 1");
        command.Parameters.Add(new() { Value = FactCatalog.Of<T>().Type });
        return (T)Core.Records.Record.Read((byte[])(await command.ExecuteScalarAsync())!, 0).Fact!;
    }

    private async Task<string> UploadAsync(string title)
    {
        using var answer = await _engineer.PostAsync("/v1/documents", new ByteArrayContent(new Paper(title).Bytes));
        Assert.Equal(HttpStatusCode.Created, answer.StatusCode);
        return (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("sha256").GetString()!;
    }

    private async Task AssignAsync(string inspector, string agency = "Invented Highway Agency") =>
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "inspector-assignments", new { person = inspector, agency, from = "2026-01-01", pin = Pin(Plant.QualityEngineer) })).Status);

    private Task<long> RecordsAsync() => _host.ScalarAsync("select count(*) from trace.record");

    private static StoryFact FromOffice(IFact fact, DateTimeOffset at, string? person = null) => new(CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id = Guid.NewGuid().ToString(), source = Plant.Office.Source, type = FactCatalog.Of(fact).Type, time = at.ToString("O", System.Globalization.CultureInfo.InvariantCulture),
        person = person ?? Plant.QualityEngineer.Id, data = FactCatalog.Write(fact),
    })), Plant.Office.Device, at, false);

    /// <summary>A story told up to a moment, the clock set to it.</summary>
    private async Task<string> TellAsync(Scenario story, DateTimeOffset until, Func<StoryFact, bool>? leaveOut = null)
    {
        await _host.SendAsync(story.Facts.Where(f => f.ArrivesAt <= until && leaveOut?.Invoke(f) != true));
        _host.Services.GetRequiredService<ScenarioClock>().Set(until);
        return story.Units[0];
    }

    [Fact]
    public async Task A_release_says_what_it_covers_and_is_undone_by_name_and_reason()
    {
        var story = PlantStory.RigidFrame(61, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At);
        var released = await PostAsync(_inspector, "releases", new { unit, hold = "pour", pin = Pin(Plant.Inspector) });
        Assert.Equal(HttpStatusCode.Created, released.Status);
        var fact = await WrittenAsync<PourReleased>();
        var cage = (await _host.DossierAsync(unit)).Records.Select(r => r.Fact).OfType<CageTied>().Single();
        Assert.Equal((cage.Revision, cage.Cage), (fact.Scope!.Revision, fact.Scope.Cage));
        Assert.Equal(cage.Bars.SelectMany(b => b.Lots).Distinct().Count(), fact.Scope.Heats!.Count);
        Assert.NotNull(fact.Scope.Form);

        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "undone-releases", new { unit, hold = "pour", reason = " ", pin = Pin(Plant.QualityEngineer) })).Status);
        var undone = await PostAsync(_engineer, "undone-releases", new { unit, hold = "pour", reason = "wrong unit looked at", pin = Pin(Plant.QualityEngineer) });
        Assert.Equal(HttpStatusCode.Created, undone.Status);
        Assert.Equal(released.Answer.GetProperty("release").GetGuid(), (await WrittenAsync<ReleaseUndone>()).Release);
        Assert.Equal(Core.Judging.HoldState.Ready, (await _host.JudgeAsync(unit, story.Releases[0].At.AddMinutes(5))).Hold(HoldKind.Pour).State);
        Assert.Equal(HttpStatusCode.Conflict, (await PostAsync(_engineer, "undone-releases", new { unit, hold = "strip", reason = "none stands", pin = Pin(Plant.QualityEngineer) })).Status);
    }

    [Fact]
    public async Task An_override_names_its_second_approver_and_what_it_goes_over()
    {
        var story = PlantStory.RigidFrame(62, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At, f => f.Event.Type == FactCatalog.Of<PrePourInspected>().Type);
        object Ask(Worker second, string? pin = null, string reason = "the agency's pour window closes at noon") =>
            new { unit, hold = "pour", reason, pin = Pin(Plant.QualityEngineer), secondApprover = second.Id, secondPin = pin ?? Pin(second) };
        var before = await RecordsAsync();
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(_inspector, "overrides", Ask(Plant.QualityEngineer))).Status);
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(_engineer, "overrides", Ask(Plant.PourForeman))).Status);
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(_engineer, "overrides", Ask(Plant.Inspector, "000000"))).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "overrides", Ask(Plant.QualityEngineer))).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "overrides", Ask(Plant.Inspector, reason: ""))).Status);
        Assert.Equal(before, await RecordsAsync());

        var (status, answer) = await PostAsync(_engineer, "overrides", Ask(Plant.Inspector));

        Assert.Equal(HttpStatusCode.Created, status);
        Assert.False(answer.GetProperty("breach").GetBoolean());
        var fact = await WrittenAsync<HoldOverridden>();
        Assert.Equal((Plant.Inspector.Id, false), (fact.SecondApprover, fact.Breach));
        Assert.Contains(fact.OpenItems, i => i.StartsWith("pour.", StringComparison.Ordinal));
        Assert.Equal(1, await _host.ScalarAsync($"select count(*) from trace.judgement where hash = '{fact.Basis.JudgementHash}'"));
    }

    [Fact]
    public async Task Over_a_lifting_check_an_override_is_recorded_as_a_breach_and_says_that_it_opens_nothing()
    {
        var story = PlantStory.RigidFrame(63, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At);
        var (status, answer) = await PostAsync(_engineer, "overrides", new { unit, hold = "strip", reason = "form is needed", pin = Pin(Plant.QualityEngineer), secondApprover = Plant.Inspector.Id, secondPin = Pin(Plant.Inspector) });
        Assert.Equal(HttpStatusCode.Created, status);
        Assert.True(answer.GetProperty("breach").GetBoolean());
        Assert.Contains("opens nothing", answer.GetProperty("why").GetString(), StringComparison.Ordinal);
        Assert.True((await WrittenAsync<HoldOverridden>()).Breach);
        Assert.NotEqual(Core.Judging.HoldState.Overridden, (await _host.JudgeAsync(unit, story.Releases[0].At)).Hold(HoldKind.Strip).State);
    }

    [Fact]
    public async Task The_units_page_overrides_undoes_and_records_a_waiver_for_those_who_may()
    {
        var story = PlantStory.RigidFrame(70, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At, f => f.Event.Type == FactCatalog.Of<PrePourInspected>().Type);
        var page = "/units/" + unit;
        Assert.DoesNotContain("handler=Override", (await _inspector.PageAsync(page)).Html, StringComparison.Ordinal);
        Assert.Contains("handler=Override", (await _engineer.PageAsync(page)).Html, StringComparison.Ordinal);
        async Task<string> SendAsync(string handler, params (string, string)[] fields)
        {
            using var answer = await _engineer.PostFormAsync(page, $"{page}?handler={handler}", [("hold", "Pour"), ("pin", Pin(Plant.QualityEngineer)), .. fields]);
            return PageVisitor.Text(await answer.Content.ReadAsStringAsync());
        }

        Assert.Contains("not of production", await SendAsync("Override", ("reason", "the crane leaves at noon"), ("second", Plant.PourForeman.Id), ("secondPin", Pin(Plant.PourForeman))), StringComparison.Ordinal);
        Assert.Contains("Pour hold overridden.", await SendAsync("Override", ("reason", "the crane leaves at noon"), ("second", Plant.Inspector.Id), ("secondPin", Pin(Plant.Inspector))), StringComparison.Ordinal);
        Assert.Equal(Core.Judging.HoldState.Overridden, (await _host.JudgeAsync(unit, story.Releases[0].At.AddMinutes(5))).Hold(HoldKind.Pour).State);
        Assert.Contains("Pour hold: undone.", await SendAsync("Undo", ("reason", "the crane stays")), StringComparison.Ordinal);
        Assert.Equal(Core.Judging.HoldState.Held, (await _host.JudgeAsync(unit, story.Releases[0].At.AddMinutes(5))).Hold(HoldKind.Pour).State);
        Assert.Contains("Upload the agency's letter", await SendAsync("Waive", ("from", "2026-06-01T06:00"), ("until", "2026-06-01T18:00"), ("letter", "W-9")), StringComparison.Ordinal);
        var paper = new Paper("Letter W-9");
        using (var waived = await _engineer.PostFormAsync(page, page + "?handler=Waive", ("document", paper.Bytes), ("hold", "Pour"), ("pin", Pin(Plant.QualityEngineer)), ("from", "2026-06-01T06:00"), ("until", "2026-06-01T18:00"), ("letter", "W-9")))
            Assert.Contains("waiver is recorded", PageVisitor.Text(await waived.Content.ReadAsStringAsync()), StringComparison.Ordinal);
        Assert.Equal(paper.Sha256, (await WrittenAsync<AgencyWaived>()).LetterSha256);
        Assert.Equal(("W-9", HoldKind.Pour), ((await WrittenAsync<AgencyWaived>()).Letter, (await WrittenAsync<AgencyWaived>()).Hold));
        using var outsider = await _inspector.PostFormAsync(page, page + "?handler=Override", ("hold", "Pour"), ("pin", Pin(Plant.Inspector)), ("reason", "x"), ("second", Plant.QualityEngineer.Id), ("secondPin", "1"));
        Assert.Equal("/not-allowed", outsider.Headers.Location?.AbsolutePath);
    }

    /// <summary>A unit whose inspector read one cover far out of tolerance, and the content that would make it right.</summary>
    private async Task<(string Unit, Guid Record, JsonObject Right)> MistypedAsync(int seed)
    {
        var story = PlantStory.RigidFrame(seed, 1, PlantStory.StartFor(1, Now));
        var inspected = story.Facts.First(f => f.Event.Type == FactCatalog.Of<CloseUpInspected>().Type);
        var right = JsonNode.Parse(inspected.Event.Data.GetRawText())!.AsObject();
        var wrong = JsonNode.Parse(inspected.Event.Data.GetRawText())!.AsObject();
        wrong["covers"]![0]!["coverIn"] = "1/4";
        var whole = JsonNode.Parse(inspected.Event.Canonical.Span)!.AsObject();
        whole["data"] = wrong;
        var unit = await TellAsync(story, inspected.ArrivesAt.AddMinutes(-1), f => f == inspected);
        await _host.SendAsync([inspected with { Event = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(whole)) }]);
        _host.Services.GetRequiredService<ScenarioClock>().Set(inspected.ArrivesAt.AddMinutes(30));
        return (unit, inspected.Event.RecordId, right);
    }

    [Fact]
    public async Task A_correction_that_turns_not_met_into_met_needs_a_second_approver_and_says_what_turns()
    {
        var (_, record, right) = await MistypedAsync(64);
        var before = await RecordsAsync();
        object Ask(string? second = null, string? pin = null) => new { record, replacedVersion = 1, data = right, reason = "tape read at the wrong bar", pin = Pin(Plant.QualityEngineer), secondApprover = second, secondPin = pin };

        var (status, problem) = await PostAsync(_engineer, "corrections", Ask());

        Assert.Equal((HttpStatusCode.Conflict, "/problems/second-approver"), (status, problem.GetProperty("type").GetString()));
        Assert.Contains(problem.GetProperty("turns").EnumerateArray(), t => t.GetProperty("requirement").GetString() == "close-up.cover");
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(_engineer, "corrections", Ask(Plant.CageForeman.Id, Pin(Plant.CageForeman)))).Status);
        Assert.Equal(before, await RecordsAsync());
        var done = await PostAsync(_engineer, "corrections", Ask(Plant.DeputyEngineer.Id, Pin(Plant.DeputyEngineer)));
        Assert.Equal(HttpStatusCode.Created, done.Status);
        Assert.Equal(Plant.DeputyEngineer.Id, (await WrittenAsync<RecordCorrected>()).SecondApprover);
    }

    [Theory]
    [InlineData(11, HttpStatusCode.Created)]
    [InlineData(13, HttpStatusCode.Conflict)]
    public async Task The_author_alone_fixes_a_slip_of_the_shift_and_not_one_of_an_earlier_shift(int hoursLater, HttpStatusCode expected)
    {
        var (_, record, right) = await MistypedAsync(74);
        _host.Services.GetRequiredService<ScenarioClock>().Set((await RecordedAtAsync(record)).AddHours(hoursLater));

        var (status, _) = await PostAsync(_inspector, "corrections", new { record, replacedVersion = 1, data = right, reason = "tape read at the wrong bar", pin = Pin(Plant.Inspector) });

        Assert.Equal(expected, status);
    }

    [Fact]
    public async Task Who_scheduled_the_unit_is_no_second_person_over_it_whether_it_is_corrected_or_overridden()
    {
        var (unit, record, right) = await MistypedAsync(75);
        _host.Services.GetRequiredService<ScenarioClock>().Set((await RecordedAtAsync(record)).AddHours(13));
        object Ask(Worker second) => new { record, replacedVersion = 1, data = right, reason = "tape read at the wrong bar", pin = Pin(Plant.Inspector), secondApprover = second.Id, secondPin = Pin(second) };
        using var deputy = await _host.SignInAsync(Plant.DeputyEngineer);
        var overridden = await PostAsync(deputy, "overrides", new { unit, hold = "pour", reason = "the pour window closes", pin = Pin(Plant.DeputyEngineer), secondApprover = Plant.QualityEngineer.Id, secondPin = Pin(Plant.QualityEngineer) });
        var corrected = await PostAsync(_inspector, "corrections", Ask(Plant.QualityEngineer));
        foreach (var (status, answer) in new[] { overridden, corrected })
        {
            Assert.Equal(HttpStatusCode.Forbidden, status);
            Assert.Contains($"made or scheduled unit {unit}", answer.GetProperty("detail").GetString(), StringComparison.Ordinal);
        }

        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_inspector, "corrections", Ask(Plant.DeputyEngineer))).Status);
    }

    private async Task<DateTimeOffset> RecordedAtAsync(Guid record)
    {
        await using var command = _host.Database.CreateCommand("select bytes from trace.record where id = $1");
        command.Parameters.Add(new() { Value = record });
        return Core.Records.Record.Read((byte[])(await command.ExecuteScalarAsync())!, 0).ReceivedAt;
    }

    [Fact]
    public async Task Another_than_the_author_corrects_only_as_quality_engineer()
    {
        var (_, record, right) = await MistypedAsync(65);
        using var technician = await _host.SignInAsync(Plant.FieldTechnician);
        right["remarks"] = "said by another";
        var refused = await PostAsync(technician, "corrections", new { record, replacedVersion = 1, data = right, reason = "not mine", pin = Pin(Plant.FieldTechnician) });
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/who-may"), (refused.Status, refused.Answer.GetProperty("type").GetString()));
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(_engineer, "withdrawals", new { record = Guid.NewGuid(), withdrawnVersion = 1, reason = "no such", pin = Pin(Plant.QualityEngineer) })).Status);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "corrections", new { record, replacedVersion = 1, data = right, reason = "found at review", pin = Pin(Plant.QualityEngineer), secondApprover = Plant.Inspector.Id, secondPin = Pin(Plant.Inspector) })).Status);
    }

    [Fact]
    public async Task Once_a_decision_rests_on_a_record_its_author_no_longer_changes_it()
    {
        var story = PlantStory.RigidFrame(66, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At);
        var inspected = story.Facts.First(f => f.Event.Type == FactCatalog.Of<PrePourInspected>().Type);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_inspector, "releases", new { unit, hold = "pour", pin = Pin(Plant.Inspector) })).Status);
        object Ask(Worker by) => new { record = inspected.Event.RecordId, withdrawnVersion = 1, reason = "recorded on the wrong unit", pin = Pin(by) };
        var refused = await PostAsync(_inspector, "withdrawals", Ask(Plant.Inspector));
        Assert.Equal((HttpStatusCode.Conflict, "/problems/decision-rests"), (refused.Status, refused.Answer.GetProperty("type").GetString()));
        // To the worse it needs no second approver.
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "withdrawals", Ask(Plant.QualityEngineer))).Status);
    }

    [Fact]
    public async Task Who_withdraws_bad_news_does_not_do_it_alone()
    {
        var story = PlantStory.RigidFrame(71, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At);
        var raised = FromOffice(new NonconformanceRaised("NC-9", [unit], NonconformanceClass.Minor, false, "Honeycomb at the foot"), story.Releases[0].At);
        await _host.SendAsync([raised]);
        object Ask(Worker? second) => new { record = raised.Event.RecordId, withdrawnVersion = 1, reason = "raised by mistake", pin = Pin(Plant.QualityEngineer), secondApprover = second?.Id, secondPin = second is null ? null : Pin(second) };

        var alone = await PostAsync(_engineer, "withdrawals", Ask(null));

        Assert.Equal((HttpStatusCode.Conflict, "/problems/second-approver"), (alone.Status, alone.Answer.GetProperty("type").GetString()));
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "withdrawals", Ask(Plant.Inspector))).Status);
    }

    [Fact]
    public async Task A_station_of_the_plant_can_neither_speak_as_the_agencys_inspector_nor_give_a_second_approval()
    {
        var story = PlantStory.RigidFrame(72, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At);
        var agency = new Worker("agency-2", "Agency inspector", [Roles.AgencyInspector]);
        await _host.Services.GetRequiredService<Register>().SaveAsync([_host.Services.GetRequiredService<Register>().NewPerson(agency.Id, agency.Duty, "password of this test", "161803", agency.Roles)], CancellationToken.None);
        var scheduled = story.Facts.First(f => f.Event.Type == FactCatalog.Of<UnitScheduled>().Type).Event;

        await _host.SendAsync([
            FromOffice(new AgencyHoldReleased(unit, HoldKind.Pour), story.Releases[0].At, agency.Id),
            FromOffice(new RecordCorrected(scheduled.RecordId, 1, scheduled.Type, scheduled.Data, "approved, they say", null, Plant.Inspector.Id), story.Releases[0].At)]);

        Assert.Equal(2, await _host.ScalarAsync("select count(*) from trace.quarantine where cleared_at is null"));
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.record where type in ('agency-hold.released.v1', 'record.corrected.v1')"));
    }

    [Fact]
    public async Task A_structural_repair_waits_for_the_letter_of_the_engineer_of_record()
    {
        var story = PlantStory.RigidFrame(67, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At);
        var raised = new NonconformanceRaised("NC-1", [unit], NonconformanceClass.Major, true, "Crack at the corner, 0.02 in wide");
        await _host.SendAsync([FromOffice(raised, story.Releases[0].At)]);
        object Ask(string disposition, object? letter = null) => new { nonconformance = "NC-1", disposition, procedure = "Epoxy injection, procedure R-4", pin = Pin(Plant.QualityEngineer), letter };
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(_inspector, "dispositions", Ask("rework"))).Status);
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(_engineer, "dispositions", new { nonconformance = "NC-2", disposition = "rework", procedure = "x", pin = Pin(Plant.QualityEngineer) })).Status);
        var refused = await PostAsync(_engineer, "dispositions", Ask("use-as-is"));
        Assert.Equal((HttpStatusCode.Conflict, "/problems/engineer-of-record"), (refused.Status, refused.Answer.GetProperty("type").GetString()));
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "dispositions", Ask("repair", new { title = "Letter of the engineer of record", sha256 = new string('a', 64) }))).Status);
        Assert.Equal("nonconformance:NC-1", (await WrittenAsync<DocumentAttached>()).Subject);
        Assert.Equal(DispositionKind.Repair, (await WrittenAsync<NonconformanceDisposed>()).Disposition);
        // The letter is there now.
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "dispositions", Ask("use-as-is"))).Status);
    }

    [Fact]
    public async Task The_agencys_inspector_signs_what_the_agency_does_and_the_quality_engineer_records_its_letter()
    {
        var story = PlantStory.RigidFrame(68, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At);
        var agency = new Worker("agency-1", "Agency inspector", [Roles.AgencyInspector]);
        await _host.Services.GetRequiredService<Register>().SaveAsync([_host.Services.GetRequiredService<Register>().NewPerson(agency.Id, agency.Duty, "password of this test", "161803", agency.Roles)], CancellationToken.None);
        using var inspector = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = _host.Address };
        (await inspector.PostAsJsonAsync("/v1/sign-in", new { person = agency.Id, password = "password of this test" })).EnsureSuccessStatusCode();
        await AssignAsync(agency.Id);
        var waiver = new { units = new[] { unit }, hold = "pour", from = "2026-06-01T06:00:00-04:00", until = "2026-06-01T18:00:00-04:00", letter = "W-17" };
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(inspector, "agency-acts", new { act = "unit.stamped", data = new { unit, stamp = "S-0042" }, pin = "161803" })).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "agency-acts", new { act = "agency.waived", data = waiver, pin = Pin(Plant.QualityEngineer) })).Status);
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(_inspector, "agency-acts", new { act = "agency.waived", data = waiver, pin = Pin(Plant.Inspector) })).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "agency-acts", new { act = "pour.released", data = waiver, pin = Pin(Plant.QualityEngineer) })).Status);
        var before = await RecordsAsync();
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "agency-acts", new { act = "agency.waived", data = waiver, pin = Pin(Plant.QualityEngineer), letter = new { title = "Letter W-17", sha256 = await UploadAsync("Letter W-17") } })).Status);
        Assert.Equal(before + 2, await RecordsAsync());
        Assert.Equal("W-17", (await WrittenAsync<AgencyWaived>()).Letter);
    }

    [Fact]
    public async Task A_lot_is_quarantined_once_and_cleared_on_a_document()
    {
        var lot = new { producer = "mill-a", number = "H-1" };
        object Ask(string? document = null) => new { lot, reason = "stain on the tags", pin = Pin(Plant.QualityEngineer), document };
        Assert.Equal(HttpStatusCode.Conflict, (await PostAsync(_engineer, "lot-clearances", Ask("letter of the mill"))).Status);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "lot-quarantines", Ask())).Status);
        Assert.Equal(HttpStatusCode.Conflict, (await PostAsync(_engineer, "lot-quarantines", Ask())).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "lot-clearances", Ask())).Status);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(_engineer, "lot-clearances", Ask("letter of the mill"))).Status);
    }

    [Fact]
    public async Task A_unit_given_to_another_contract_is_judged_by_the_profile_of_that_one()
    {
        var story = PlantStory.RigidFrame(69, 1, PlantStory.StartFor(1, Now));
        var unit = await TellAsync(story, story.Releases[0].At);
        var opened = story.Facts.Select(f => f.Event).First(e => e.Type == FactCatalog.Of<ContractOpened>().Type).Data;
        var other = JsonNode.Parse(opened.GetRawText())!.AsObject();
        other["contract"] = "C-OTHER";
        var fact = (ContractOpened)FactCatalog.Read(FactCatalog.Of<ContractOpened>(), JsonSerializer.SerializeToElement(other));
        await _host.SendAsync([FromOffice(fact, story.Releases[0].At)]);
        object Ask(string contract, string? reason = null) => new { unit, contract, mark = "RF-9", pin = Pin(Plant.QualityEngineer), reason };
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(_engineer, "allocations", Ask("C-NOBODY", "x"))).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(_engineer, "allocations", Ask("C-OTHER"))).Status);
        var (status, answer) = await PostAsync(_engineer, "allocations", Ask("C-OTHER", "the first contract was shortened"));
        Assert.Equal((HttpStatusCode.Created, $"{fact.Profile}@{fact.ProfileVersion}"), (status, answer.GetProperty("profile").GetString()));
        Assert.NotEqual(0, answer.GetProperty("holds").GetArrayLength());
        Assert.Equal("C-OTHER", (await WrittenAsync<UnitRemarked>()).Contract);
    }
}
