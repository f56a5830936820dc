using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class ShipTests
{
    private const string Id = "ship.strength";

    private static UnitCase Loads(string prefix, string load, UnitCase? unit = null) => (unit ?? Good).Change<CylinderBroken>(b =>
        b.Cylinder.StartsWith(prefix, StringComparison.Ordinal) ? b with { Diameter1In = R("4.00"), Diameter2In = R("4.00"), LengthIn = R("8"), LoadLbf = R(load) } : b);

    // 62,832 lbf on 12.566 in2 are 5,000 psi.
    private const string Good5000 = "62832", Low4990 = "62706";

    private static readonly UnitCase NotShipped = Good.Without<UnitShipped>();

    [Fact]
    public void The_ship_set_turns_exactly_at_the_drawings_strength()
    {
        var early = NotShipped.Without<CylinderBroken>(b => b.Cylinder.StartsWith("AC", StringComparison.Ordinal));
        Assert.Equal(Verdict.Met, Loads("SH", Good5000, early).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Loads("SH", Low4990, early).Verdict(Id));
    }

    [Fact]
    public void The_acceptance_set_speaks_before_the_younger_ship_set()
    {
        Assert.Equal(Verdict.Met, Loads("SH", "50000", NotShipped).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Loads("AC", Low4990, NotShipped).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Loads("AC", Low4990).Verdict(Id));
    }

    [Fact]
    public void A_low_result_after_the_shipment_speaks_against_it_and_a_good_one_does_not_fix_it()
    {
        Assert.Equal(Verdict.NotMet, Loads("SH", "50000").Verdict(Id));
        Assert.Equal(Verdict.Met, Good.Verdict(Id));
    }

    [Fact]
    [OutsideCheck("One strength test for acceptance: 4 x 8 in cylinders of one sample", "at least three", "ACI 318-19, 26.12", SourceMark.Published)]
    public void Two_small_cylinders_are_no_acceptance_test()
    {
        var two = NotShipped.Without<CylinderBroken>(b => b.Cylinder is "AC3" or "SH1" or "SH2");
        Assert.NotEqual(Verdict.Met, two.Verdict(Id));
        Assert.Equal(Verdict.Met, NotShipped.Without<CylinderBroken>(b => b.Cylinder is "SH1" or "SH2").Verdict(Id));
    }

    [Fact]
    [OutsideCheck("One strength test for acceptance: 6 x 12 in cylinders of one sample", "at least two", "ACI 318-19, 26.12", SourceMark.Published)]
    public void Two_large_cylinders_are_an_acceptance_test()
    {
        var large = NotShipped.Without<CylinderBroken>(b => b.Cylinder is "AC3" or "SH1" or "SH2")
            .Change<SampleTested>(s => s with { Cylinders = [.. s.Cylinders.Select(c => c.Purpose == CylinderPurpose.Acceptance ? c with { Size = "6x12" } : c)] })
            .Change<CylinderBroken>(b => b.Cylinder.StartsWith("AC", StringComparison.Ordinal) ? b with { Diameter1In = R("6"), Diameter2In = R("6"), LengthIn = R("12"), LoadLbf = R("142000") } : b);
        Assert.Equal(Verdict.Met, large.Verdict(Id));
    }

    [Fact]
    public void Acceptance_breaks_outside_their_age_window_do_not_count_and_early_low_ones_are_no_low_result()
    {
        var acceptanceOnly = NotShipped.Without<CylinderBroken>(b => b.Cylinder.StartsWith("SH", StringComparison.Ordinal)).AsOf(Good.At.AddDays(60));
        UnitCase Moved(double hours, string load) => Loads("AC", load, acceptanceOnly).Move<CylinderBroken>(TimeSpan.FromHours(hours));
        Assert.Equal(Verdict.Met, Moved(0, Good5000).Verdict(Id));
        Assert.NotEqual(Verdict.Met, Moved(30, Good5000).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Moved(30, Low4990).Verdict(Id));
        Assert.NotEqual(Verdict.NotMet, Moved(-30, Low4990).Verdict(Id));
    }

    [Fact]
    public void A_low_acceptance_test_is_not_lost_when_its_cylinder_is_listed_last_and_was_broken_first()
    {
        var low = NotShipped.Change<SampleTested>(s => s with { Cylinders = [.. s.Cylinders.Reverse()] })
            .Change<CylinderBroken>(b => b.Cylinder == "AC1" ? b with { LoadLbf = R("5000") } : b);
        Assert.Equal(Verdict.NotMet, low.Verdict(Id));
    }

    [Fact]
    public void Before_its_breaks_the_strength_is_pending_and_after_shipping_missing()
    {
        Assert.Equal(Verdict.Pending, Good.Before<UnitStripped>().Verdict(Id));
        Assert.Equal(Verdict.Missing, Good.Without<CylinderBroken>().Verdict(Id));
    }

    [Fact]
    public void The_least_age_is_pending_with_its_date_and_the_judgement_knows_until_when_it_stands()
    {
        var finished = Good.RecordOf<PourPlaced>();
        var due = ((PourPlaced)finished.Fact!).FinishedAt.AddDays(3) - TimeSpan.FromMilliseconds(finished.Sent.ClockOffsetMs!.Value);
        var waiting = Good.Before<UnitShipped>().AsOf(due.AddSeconds(-1));
        Assert.Equal((Verdict.Pending, (DateTimeOffset?)due), (waiting.Finding("ship.minimum-age").Verdict, waiting.Finding("ship.minimum-age").Due));
        Assert.Equal(due, waiting.Judge().ValidUntil);
        Assert.Equal(Verdict.Met, waiting.AsOf(due).Verdict("ship.minimum-age"));
    }

    [Fact]
    public void A_unit_shipped_too_young_is_not_met_however_much_later_it_is_judged()
    {
        Assert.Equal(Verdict.NotMet, Good.Limit("ship.minimum-age", "14").Verdict("ship.minimum-age"));
        Assert.Equal(Verdict.Met, Good.Limit("ship.minimum-age", "7").Verdict("ship.minimum-age"));
        Assert.Equal(Verdict.Missing, Good.Without<PourPlaced>().Verdict("ship.minimum-age"));
    }

    [Fact]
    public void Every_lot_is_certified_except_aggregates()
    {
        const string Lots = "ship.lots-certified";
        Assert.DoesNotContain(Good.Findings(Lots), f => f.Subject.Contains("quarry", StringComparison.Ordinal));
        Assert.Equal(Verdict.Missing, Good.Without<LotCertified>(c => c.Lot.Producer == "cement-1").Verdict(Lots, "cement-1"));
        Assert.Equal(Verdict.Missing, Good.Without<LotCertified>(c => c.Size == "#4").Verdict(Lots, "A40417"));
        var nameless = Good.Change<BatchTicketed>(t => t with { Ingredients = [.. t.Ingredients.Select(i => i.Material == Material.Cement ? i with { Lot = null } : i)] });
        Assert.Equal(3, nameless.Findings(Lots).Count(f => f.Verdict == Verdict.Missing));
    }

    [Fact]
    public void Two_contents_of_one_ticket_hold_the_unit_until_a_person_settles_them()
    {
        var ticket = Good.The<BatchTicketed>();
        var conflict = NotShipped.Add(ticket with { WaterBatchedLb = R("9") }, ticket.ChargedAt.AddHours(1), "p-106", "/plant/ticket-files");
        var finding = conflict.Finding("ship.records-agree");
        Assert.Equal(Verdict.CannotTell, finding.Verdict);
        Assert.Equal(2, finding.SetAside.Count);
        Assert.All(finding.SetAside, s => Assert.Contains(s.Record.ToString("D"), finding.Reason, StringComparison.Ordinal));
        Assert.Equal(HoldState.Held, conflict.Judge().Hold(HoldKind.Ship).State);
    }

    [Fact]
    public void Two_contents_under_one_id_are_both_named_whichever_came_first()
    {
        var cure = Good.RecordOf<CureTemperatures>();
        var other = (CureTemperatures)cure.Fact! with { InitialSetAt = null };
        var twice = NotShipped.Add(other, cure.Sent.Time, cure.Person!, cure.Sent.Source, cure.Sent.Id);
        var finding = twice.Finding("ship.records-agree");
        Assert.Equal((Verdict.CannotTell, 2), (finding.Verdict, finding.SetAside.Count));
        Assert.Equal(twice.Judge().Hash, (twice with { Records = [.. twice.Records.Reverse()] }).Judge().Hash);
    }

    [Fact]
    public void A_correction_whose_record_is_not_here_is_missing_it()
    {
        var close = Good.RecordOf<CloseUpInspected>();
        var waiting = Good.Add(new RecordCorrected(close.Id, 1, close.Type, FactCatalog.Write(close.Fact!), "mistyped"), close.OccurredAt.At.AddHours(1)).Without<CloseUpInspected>();
        Assert.Equal(Verdict.Missing, waiting.Verdict("ship.records-agree"));
    }

    [Fact]
    public void Two_corrections_of_one_version_stand_together_with_the_record_they_change()
    {
        var close = Good.RecordOf<CloseUpInspected>();
        var data = FactCatalog.Write(close.Fact!);
        UnitCase Correct(UnitCase unit, string reason) => unit.Add(new RecordCorrected(close.Id, 1, close.Type, data, reason), close.OccurredAt.At.AddHours(1));
        Assert.Equal(Verdict.Met, Correct(Good, "once").Verdict("ship.records-agree"));
        Assert.Equal(3, Correct(Correct(Good, "once"), "again").Finding("ship.records-agree").SetAside.Count);
    }

    [Fact]
    public void The_strip_is_recorded_before_shipping()
    {
        Assert.Equal(Verdict.Met, Good.Verdict("ship.stripped"));
        Assert.Equal(Verdict.Missing, Good.Without<UnitStripped>().Verdict("ship.stripped"));
        Assert.Equal(Verdict.Pending, NotShipped.Without<UnitStripped>().Verdict("ship.stripped"));
    }

    [Fact]
    public void A_unit_with_everything_in_order_is_ready_to_ship()
    {
        Assert.Equal(HoldState.Ready, NotShipped.Judge().Hold(HoldKind.Ship).State);
        Assert.Equal(HoldState.Held, Good.Before<UnitStripped>().Judge().Hold(HoldKind.Ship).State);
    }
}
