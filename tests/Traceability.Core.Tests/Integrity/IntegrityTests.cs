using Traceability.PlantSimulator.Story;
using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Integrity;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Core.Tests.Judging;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Core.Tests.Integrity;

/// <summary>Signs that a person should look at: found where they are planted, and not where an honest explanation is in the records.</summary>
public sealed class IntegrityTests
{
    private static readonly DateTimeOffset Noon = new(2026, 4, 14, 12, 0, 0, TimeSpan.FromHours(-4));

    private int _number;

    private Record Entry(IFact fact, DateTimeOffset at, string person = "p-1", string source = "/plant/inspection-1", TimeSpan lateBy = default, long? seq = null)
    {
        _number++;
        var envelope = new JsonObject
        {
            ["specversion"] = "1.0", ["id"] = $"i-{_number}", ["source"] = source, ["type"] = FactCatalog.Of(fact).Type, ["person"] = person, ["clockoffsetms"] = 0,
            ["time"] = at.ToString("O", CultureInfo.InvariantCulture), ["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText()),
        };
        if (seq is { } n) envelope["deviceseq"] = n;
        var sent = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(envelope));
        var received = at + (lateBy == default ? TimeSpan.FromSeconds(3) : lateBy);
        return Record.Read(Record.Write(sent, sent.RecordId, "device", "intake", received, received), _number);
    }

    private static IReadOnlyList<IntegrityNote> Review(IEnumerable<Record> records, IntegrityKind kind)
    {
        var all = records.ToList();
        var notes = IntegrityReview.Of(all, PlantStory.Time);
        // Whatever the order in which they came.
        Assert.Equivalent(notes.Select(n => n.Words).Order(), IntegrityReview.Of([.. Enumerable.Reverse(all)], PlantStory.Time).Select(n => n.Words).Order());
        return [.. notes.Where(n => n.Kind == kind)];
    }

    private static CloseUpInspected CloseUp(string unit) => UnitCase.Good.The<CloseUpInspected>() with { Unit = unit };

    private static SampleTested Sample(string id, DateTimeOffset at) => UnitCase.Good.The<SampleTested>() with { Sample = id, SampledAt = at.AddMinutes(-20), MouldedAt = at.AddMinutes(-5), FirstPortionAt = null, LastPortionAt = null, TestsStartedAt = null };

    [Fact]
    public void Five_facts_entered_in_one_go_a_day_late_are_a_late_block_and_four_are_not()
    {
        Record Late(int i) => Entry(new FormOiled("F-1", $"U-{i}", "agent"), Noon.AddHours(i), "p-5", "/plant/form-1", TimeSpan.FromHours(30 - i) + TimeSpan.FromMinutes(i));
        Assert.Empty(Review(Enumerable.Range(0, 4).Select(Late), IntegrityKind.LateBlock));
        var note = Assert.Single(Review(Enumerable.Range(0, 5).Select(Late), IntegrityKind.LateBlock));
        Assert.Equal("p-5 entered 5 facts within 4 minutes, up to 30 hours after they happened.", note.Words);
        Assert.Equal(5, note.Records.Count);
    }

    [Fact]
    public void A_kiosk_that_was_offline_delivers_late_what_was_entered_in_time()
    {
        var delivered = Enumerable.Range(0, 8).Select(i => Entry(new FormOiled("F-1", $"U-{i}", "agent"), Noon.AddHours(i), lateBy: TimeSpan.FromHours(30), seq: i + 1));
        Assert.Empty(Review(delivered, IntegrityKind.LateBlock));
    }

    [Fact]
    public void A_time_that_the_content_states_counts_as_when_it_happened()
    {
        // Entered on a kiosk in the evening of the next day, all about samples of the day before.
        var copied = Enumerable.Range(0, 5).Select(i => Entry(Sample($"S-{i}", Noon.AddHours(i)), Noon.AddHours(30).AddMinutes(i), "p-7", "/kiosk/k-1", seq: i + 1));
        Assert.Single(Review(copied, IntegrityKind.LateBlock));
    }

    [Fact]
    public void The_same_readings_for_three_units_are_noted_and_for_two_not()
    {
        Record One(string unit, int hour) => Entry(CloseUp(unit), Noon.AddHours(hour));
        Assert.Empty(Review([One("U-1", 0), One("U-2", 1)], IntegrityKind.IdenticalReadings));
        var note = Assert.Single(Review([One("U-1", 0), One("U-2", 1), One("U-3", 2)], IntegrityKind.IdenticalReadings));
        Assert.Contains("close-up.inspected: U-1, U-2, U-3", note.Words, StringComparison.Ordinal);
    }

    [Fact]
    public void The_same_unit_read_again_is_no_repeat_and_another_reading_ends_one()
    {
        Assert.Empty(Review([Entry(CloseUp("U-1"), Noon), Entry(CloseUp("U-1"), Noon.AddHours(1)), Entry(CloseUp("U-1"), Noon.AddHours(2))], IntegrityKind.IdenticalReadings));
        var other = CloseUp("U-3");
        other = other with { Covers = [.. other.Covers.Select((c, i) => i == 0 ? c with { CoverIn = UnitCase.R("1 1/16") } : c)] };
        Assert.Empty(Review([Entry(CloseUp("U-1"), Noon), Entry(CloseUp("U-2"), Noon.AddHours(1)), Entry(other, Noon.AddHours(2))], IntegrityKind.IdenticalReadings));
    }

    [Fact]
    public void One_inspector_at_two_stations_at_overlapping_times_is_noted_and_one_who_walked_over_is_not()
    {
        Record Tested(string source) => Entry(Sample("S-1", Noon), Noon, "p-7", source);
        Record Oiled(DateTimeOffset at, string person = "p-7") => Entry(new FormOiled("F-1", "U-1", "agent"), at, person, "/plant/form-1");
        var note = Assert.Single(Review([Tested("/plant/lab-1"), Oiled(Noon.AddMinutes(-10))], IntegrityKind.TwoPlaces));
        Assert.Contains("/plant/lab-1", note.Words, StringComparison.Ordinal);
        Assert.Contains("/plant/form-1", note.Words, StringComparison.Ordinal);
        Assert.Empty(Review([Tested("/plant/lab-1"), Oiled(Noon.AddMinutes(10))], IntegrityKind.TwoPlaces));
        Assert.Empty(Review([Tested("/plant/lab-1"), Oiled(Noon.AddMinutes(-10), "p-8")], IntegrityKind.TwoPlaces));
        Assert.Empty(Review([Tested("/plant/form-1"), Oiled(Noon.AddMinutes(-10))], IntegrityKind.TwoPlaces));
    }

    [Fact]
    public void Two_pieces_inspected_within_a_minute_from_one_tablet_are_two_places()
    {
        Assert.Single(Review([Entry(CloseUp("U-1"), Noon), Entry(CloseUp("U-2"), Noon.AddMinutes(1))], IntegrityKind.TwoPlaces));
        Assert.Empty(Review([Entry(CloseUp("U-1"), Noon), Entry(CloseUp("U-2"), Noon.AddMinutes(15))], IntegrityKind.TwoPlaces));
    }

    [Fact]
    public void A_break_that_happened_before_a_release_and_was_entered_after_it_is_noted()
    {
        var unit = HoldCase.BeforePour.Release(-1);
        var released = unit.Records.Single(r => r.Fact is PourReleased);
        IReadOnlyList<IntegrityNote> Notes(UnitCase of) => [.. EnteredAfterDecision.Of(Assemble.Unit(new Dossier(Subject.Unit(UnitCase.Unit), of.Records.Count, of.Records, PlantStory.Time)), DateTimeOffset.MinValue, DateTimeOffset.MaxValue)];
        Assert.Empty(Notes(unit));
        var inspected = unit.RecordOf<PrePourInspected>();
        var late = Record.Read(Record.Write(inspected.Sent, inspected.Id, inspected.Device, inspected.Assurance, released.OccurredAt.At.AddHours(2), released.OccurredAt.At.AddHours(2)), inspected.Position);
        var note = Assert.Single(Notes(unit with { Records = [.. unit.Records.Select(r => r == inspected ? late : r)] }));
        Assert.Equal([late.Id, released.Id], note.Records);
        Assert.StartsWith("pre-pour.inspected of RF-0001 happened", note.Words, StringComparison.Ordinal);
    }

    [Fact]
    public void A_correction_that_turns_not_met_into_met_is_noted_with_who_approved_it_and_one_to_the_worse_is_not()
    {
        var wrong = UnitCase.Good.Change<CloseUpInspected>(c => c with { Covers = [.. c.Covers.Select((x, i) => i == 0 ? x with { CoverIn = UnitCase.R("1/4") } : x)] });
        var turned = Turned.Between(wrong.Judge(), UnitCase.Good.Judge());
        Assert.Contains(turned, t => t is { Requirement: "close-up.cover", Before: Verdict.NotMet });
        Assert.Empty(Turned.Between(UnitCase.Good.Judge(), wrong.Judge()));
        var record = UnitCase.Good.RecordOf<CloseUpInspected>();
        Record Change(string? second) => Entry(new RecordCorrected(record.Id, 1, record.Type, record.Sent.Data, "tape misread", null, second), Noon);
        Assert.Contains("without a second approver", Turned.Note(Change(null), turned)!.Words, StringComparison.Ordinal);
        Assert.Contains("approved by p-102", Turned.Note(Change("p-102"), turned)!.Words, StringComparison.Ordinal);
        Assert.Null(Turned.Note(Change("p-102"), []));
    }

    [Fact]
    public void A_change_that_makes_bad_evidence_vanish_takes_away_what_was_not_met_as_much_as_one_that_makes_it_good()
    {
        var low = UnitCase.Good.Change<CylinderBroken>(b => b.Cylinder.StartsWith("ST", StringComparison.Ordinal) ? b with { LoadLbf = UnitCase.R("12000") } : b);
        Assert.Equal(Verdict.NotMet, low.Verdict("strip.strength"));

        var gone = low.Without<CylinderBroken>(b => b.Cylinder.StartsWith("ST", StringComparison.Ordinal));

        Assert.Contains(Turned.Between(low.Judge(), gone.Judge()), t => t is { Requirement: "strip.strength", Before: Verdict.NotMet, After: Verdict.Missing });
    }

    [Fact]
    public void Overrides_and_breaches_are_listed_apart_and_a_step_without_a_release_is_a_breach()
    {
        Record Over(bool breach) => Entry(new HoldOverridden("U-1", HoldKind.Pour, "noon crane", "p-102", ["pour.dimensions unit:U-1"], breach, HoldCase.Basis), Noon, source: "/service/decisions");
        Assert.Single(Review([Over(false)], IntegrityKind.Override));
        Assert.Single(Review([Over(true)], IntegrityKind.Breach));

        var good = UnitCase.Good;
        var file = Assemble.Unit(new Dossier(Subject.Unit(UnitCase.Unit), good.Records.Count, good.Records, PlantStory.Time));
        var breaches = Overridden.Breaches(file, good.Judge(), DateTimeOffset.MinValue, DateTimeOffset.MaxValue).ToList();
        Assert.Contains(breaches, b => b.Words.Contains("without a release", StringComparison.Ordinal));
        Assert.Empty(Overridden.Breaches(file, good.Judge(), DateTimeOffset.MinValue, DateTimeOffset.MinValue.AddDays(1)));
    }

    [Fact]
    public void An_honest_unit_from_drawing_to_shipment_gives_no_sign()
    {
        Assert.Empty(IntegrityReview.Of(UnitCase.Good.Records, PlantStory.Time));
    }
}
