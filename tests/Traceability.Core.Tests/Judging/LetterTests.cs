using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>Letters: not met becomes "not met, accepted", not met or missing becomes "waived"; nothing becomes "met".</summary>
public sealed class LetterTests
{
    private const string Tight = "pour.form-tight";

    private static UnitCase Leaking { get; } = Good.Change<PrePourInspected>(p => p with { FormTight = false });

    private static AgencyAccepted Accepted(string requirement = Tight, string? subject = null, string unit = Unit) =>
        new(unit, [new AcceptedFinding(requirement, subject)], "L-20", new DateOnly(2026, 3, 9), "fins ground off");

    private static UnitCase Nonconformance(DispositionKind disposition, Approver by, bool structural = false, string unit = Unit) => Leaking
        .At(new NonconformanceRaised("NC-1", [unit], NonconformanceClass.Minor, structural, "leaked at the joint", Tight), 5)
        .At(new NonconformanceDisposed("NC-1", disposition, "grind"), 6)
        .At(new NonconformanceApproved("NC-1", by, "L-21", Pour.AddHours(7), [new AcceptedFinding(Tight)], "within 48 h"), 7);

    [Fact]
    public void What_the_agency_accepts_by_letter_is_not_met_accepted_with_letter_date_person_and_condition()
    {
        Assert.Equal(Verdict.NotMet, Leaking.Verdict(Tight));
        var finding = Leaking.At(Accepted(), 30).Finding(Tight);
        Assert.Equal((Verdict.NotMetAccepted, true), (finding.Verdict, finding.Allows));
        Assert.All(new[] { "L-20", "2026-03-09", "p-101", "fins ground off" }, text => Assert.Contains(text, finding.Reason, StringComparison.Ordinal));
        Assert.Equal("", finding.Clear);
    }

    [Fact]
    public void It_accepts_what_it_names_and_nothing_else()
    {
        var subject = Leaking.Finding(Tight).Subject;
        Assert.Equal(Verdict.NotMetAccepted, Leaking.At(Accepted(subject: subject), 30).Verdict(Tight));
        Assert.Equal(Verdict.NotMet, Leaking.At(Accepted(subject: "unit:RF-0002"), 30).Verdict(Tight));
        Assert.Equal(Verdict.NotMet, Leaking.At(Accepted("close-up.cover"), 30).Verdict(Tight));
        Assert.Equal(Verdict.NotMet, Leaking.At(Accepted(unit: "RF-0002"), 30).Verdict(Tight));
    }

    [Fact]
    public void An_acceptance_makes_nothing_of_what_is_met_or_missing()
    {
        Assert.Equal(Verdict.Met, Good.At(Accepted(), 30).Verdict(Tight));
        Assert.Equal(Verdict.Missing, Good.Without<PrePourInspected>().At(Accepted(), 30).Verdict(Tight));
    }

    [Fact]
    public void An_approved_nonconformance_accepts_when_it_is_used_as_is_or_repaired()
    {
        Assert.Equal(Verdict.NotMetAccepted, Nonconformance(DispositionKind.UseAsIs, Approver.QualityEngineer).Verdict(Tight));
        Assert.Equal(Verdict.NotMetAccepted, Nonconformance(DispositionKind.Repair, Approver.QualityEngineer).Verdict(Tight));
        Assert.Equal(Verdict.NotMet, Nonconformance(DispositionKind.Reject, Approver.Agency).Verdict(Tight));
        Assert.Equal(Verdict.NotMet, Nonconformance(DispositionKind.Rework, Approver.Agency).Verdict(Tight));
        Assert.Equal(Verdict.NotMet, Nonconformance(DispositionKind.UseAsIs, Approver.Agency, unit: "RF-0002").Verdict(Tight));
        Assert.Contains("NC-1 by the quality engineer, letter L-21", Nonconformance(DispositionKind.UseAsIs, Approver.QualityEngineer).Finding(Tight).Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_structural_one_needs_the_engineer_of_record_or_the_agency()
    {
        Assert.Equal(Verdict.NotMet, Nonconformance(DispositionKind.Repair, Approver.QualityEngineer, structural: true).Verdict(Tight));
        Assert.Equal(Verdict.NotMetAccepted, Nonconformance(DispositionKind.Repair, Approver.EngineerOfRecord, structural: true).Verdict(Tight));
        Assert.Equal(Verdict.NotMetAccepted, Nonconformance(DispositionKind.UseAsIs, Approver.Agency, structural: true).Verdict(Tight));
    }

    private static UnitCase Approved(UnitCase unit, string requirement, Approver by, NonconformanceClass kind = NonconformanceClass.Minor) => unit
        .At(new NonconformanceRaised("NC-1", [Unit], kind, false, "as the finding says", requirement), 5)
        .At(new NonconformanceDisposed("NC-1", DispositionKind.UseAsIs, "left"), 6)
        .At(new NonconformanceApproved("NC-1", by, "L-21", Pour.AddHours(7), [new AcceptedFinding(requirement)]), 7);

    [Fact]
    public void A_major_one_needs_them_too()
    {
        Assert.Equal(Verdict.NotMet, Approved(Leaking, Tight, Approver.QualityEngineer, NonconformanceClass.Major).Verdict(Tight));
        Assert.Equal(Verdict.NotMetAccepted, Approved(Leaking, Tight, Approver.EngineerOfRecord, NonconformanceClass.Major).Verdict(Tight));
    }

    // Every cylinder on 12.566 in2.
    private static UnitCase Broken(string load) => Good.Change<CylinderBroken>(b => b with { Diameter1In = R("4.00"), Diameter2In = R("4.00"), LengthIn = R("8"), LoadLbf = R(load) });

    [Theory]
    [InlineData("strip.strength")]
    [InlineData("ship.strength")]
    [InlineData("acceptance.strength")]
    public void The_quality_engineer_alone_accepts_no_low_strength_that_the_contract_asks(string requirement)
    {
        var low = Broken("10000");
        Assert.Equal(Verdict.NotMet, low.Verdict(requirement));
        Assert.Equal(Verdict.NotMet, Approved(low, requirement, Approver.QualityEngineer).Verdict(requirement));
        foreach (var by in new[] { Approver.EngineerOfRecord, Approver.Agency }) Assert.Equal(Verdict.NotMetAccepted, Approved(low, requirement, by).Verdict(requirement));
    }

    [Fact]
    public void The_plant_s_own_tighter_strength_is_the_quality_engineer_s_to_accept()
    {
        const string Id = "acceptance.strength";
        var plan = Broken("56549").Limit("acceptance.single.under", l => l! with { Value = R("400"), Rank = LimitRank.PlantPlan, Source = new Citation("Invented quality plan", SourceMark.CommonPractice) });
        Assert.Equal(Verdict.NotMet, plan.Verdict(Id));
        Assert.Equal(Verdict.NotMetAccepted, Approved(plan, Id, Approver.QualityEngineer).Verdict(Id));
    }

    [Fact]
    public void A_disposition_after_the_approval_was_not_approved()
    {
        var changed = Nonconformance(DispositionKind.Repair, Approver.Agency);
        Assert.Equal(Verdict.NotMet, changed.At(new NonconformanceDisposed("NC-1", DispositionKind.UseAsIs, "leave it"), 9).Verdict(Tight));
    }

    [Fact]
    public void A_waived_requirement_is_waived_within_its_time_and_not_outside()
    {
        AgencyWaived Waiver(double from, double until) => new([Unit], HoldKind.Pour, Pour.AddHours(from), Pour.AddHours(until), "L-30", Tight);
        Assert.Equal(Verdict.Waived, Leaking.At(Waiver(-4, 4), -5).Verdict(Tight));
        Assert.Equal(Verdict.Waived, Leaking.At(Waiver(-4, 4), 30).Verdict(Tight));
        Assert.Equal(Verdict.Waived, Good.Without<PrePourInspected>().At(Waiver(-4, 4), -5).Verdict(Tight));
        var wrong = Leaking.At(Waiver(20, 24), 5).Finding(Tight);
        Assert.Equal(Verdict.NotMet, wrong.Verdict);
        Assert.Contains("does not cover", wrong.Reason, StringComparison.Ordinal);
        Assert.Equal(Verdict.Met, Good.At(Waiver(-4, 4), -5).Verdict(Tight));
        Assert.Equal(Verdict.NotMet, Leaking.At(Waiver(-4, 4) with { Hold = HoldKind.Strip }, -5).Verdict(Tight));
    }

    [Fact]
    public void A_waiver_for_a_later_hold_counts_once_the_finding_s_own_step_was_taken()
    {
        var ship = new AgencyWaived([Unit], HoldKind.Ship, Pour.AddDays(-1), Shipped.AddDays(1), "L-32", Tight);
        var leaking = BeforePour.Change<PrePourInspected>(p => p with { FormTight = false });
        Assert.Equal(Verdict.NotMet, leaking.At(ship, -5).Verdict(Tight));
        Assert.Equal(Verdict.Waived, Leaking.At(ship, -5).Verdict(Tight));
        Assert.Equal(Verdict.NotMet, Leaking.At(ship with { Until = Shipped.AddHours(-3) }, -5).Verdict(Tight));
        Assert.Equal(Verdict.NotMet, Leaking.At(ship with { Hold = HoldKind.Tying }, -5).Verdict(Tight));
    }

    [Fact]
    public void No_letter_settles_a_check_of_lifting_or_a_rejection()
    {
        var weak = Good.Change<DrawingApproved>(d => d with { Lifting = d.Lifting with { InsertUltimateLbf = R("100") } });
        var waiver = new AgencyWaived([Unit], HoldKind.Strip, Pour, Pour.AddDays(60), "L-31", "strip.lifting");
        Assert.Equal(Verdict.NotMet, weak.At(Accepted("strip.lifting"), 30).At(waiver, 1).Verdict("strip.lifting", "inserts"));
        Assert.Equal(Verdict.NotMet, Good.At(new UnitRejected(Unit, "cracked"), 30).At(Accepted("ship.not-rejected"), 40).Verdict("ship.not-rejected"));
    }

    [Fact]
    public void A_waiver_of_a_requirement_of_placing_covers_the_pour_of_the_batch_the_finding_is_about()
    {
        const string Rejected = "place.rejected-concrete";
        var first = Good.The<PourPlaced>();
        var begins = first.StartedAt.AddHours(30);
        var ticket = Good.The<BatchTicketed>();
        var other = ticket.Batch with { Ticket = ticket.Batch.Ticket + "7" };
        var second = Good.Add(first with { Pour = "P-curb", StartedAt = begins, FinishedAt = begins.AddMinutes(20), Rows = [first.Rows[0] with { Batch = other }] }, begins.AddMinutes(25), "p-105")
            .Add(new LoadRejected(other, "too old"), begins.AddMinutes(30));
        AgencyWaived Waiver(DateTimeOffset from) => new([Unit], HoldKind.Place, from, from.AddHours(4), "L-31", Rejected);
        var finding = second.Findings(Rejected).Single(f => f.Verdict == Verdict.NotMet);
        Assert.Equal(Verdict.NotMet, second.At(Waiver(first.StartedAt.AddHours(-2)), -5).Verdict(Rejected, finding.Subject));
        Assert.Equal(Verdict.Waived, second.At(Waiver(begins.AddHours(-2)), -5).Verdict(Rejected, finding.Subject));
    }
}
