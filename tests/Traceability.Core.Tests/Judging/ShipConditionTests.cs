using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>Condition of the finished unit before it leaves: what the profile asks for, what is judged whenever it is recorded.</summary>
public sealed class ShipConditionTests
{
    private static readonly UnitCase InYard = Good.Without<UnitShipped>();

    private static readonly DateTimeOffset Stripped = Good.RecordOf<UnitStripped>().OccurredAt.At;

    private static DateTimeOffset Hours(double hours) => Stripped.AddHours(hours);

    private static AsCastInspected AsDrawn(bool surface = true) =>
        new(Unit, [.. Good.The<DrawingApproved>().Dimensions.Select(d => new MeasuredDimension(d.Name, d.SpecifiedIn))], surface, ["TP-1"]);

    [Theory]
    [InlineData("ship.as-cast", "asked.as-cast")]
    [InlineData("ship.fit", "asked.fit")]
    [InlineData("ship.cracks", "asked.cracks")]
    [InlineData("ship.marked", "asked.mark")]
    [InlineData("ship.stamped", "asked.stamp")]
    [InlineData("ship.load-out", "asked.load-out")]
    [InlineData("ship.documents", "asked.load-certificate")]
    public void What_a_profile_does_not_ask_does_not_apply_and_what_it_asks_is_pending_then_missing(string requirement, string key)
    {
        Assert.Equal(Verdict.NotApplicable, InYard.Verdict(requirement));
        Assert.Equal(Verdict.Pending, InYard.Limit(key, "1").Verdict(requirement));
        Assert.Equal(Verdict.Missing, Good.Limit(key, "1").Verdict(requirement));
        Assert.Equal(HoldState.Held, InYard.Limit(key, "1").Judge().Hold(HoldKind.Ship).State);
        Assert.NotEqual(Verdict.NotApplicable, InYard.Without<ProfilePublished>().Verdict(requirement));
    }

    [Fact]
    public void Every_dimension_of_the_drawing_is_measured_as_cast_and_judged_by_its_tolerance()
    {
        var inspected = InYard.Add(AsDrawn(), Hours(1));
        Assert.All(inspected.Findings("ship.as-cast"), f => Assert.Equal(Verdict.Met, f.Verdict));
        var first = Good.The<DrawingApproved>().Dimensions[0];
        AsCastInspected With(decimal off) => AsDrawn() with { Dimensions = [.. AsDrawn().Dimensions.Select(d => d.Name == first.Name ? d with { MeasuredIn = Core.Quantities.Reading.Of(first.SpecifiedIn.Value + off) } : d)] };
        Assert.Equal(Verdict.NotMet, InYard.Add(With(-20), Hours(1)).Verdict("ship.as-cast", first.Name));
        Assert.Equal(Verdict.Met, InYard.Add(With(-20), Hours(1)).Add(AsDrawn(), Hours(2)).Verdict("ship.as-cast", first.Name));
        Assert.Equal(Verdict.Missing, InYard.Add(AsDrawn() with { Dimensions = [.. AsDrawn().Dimensions.Where(d => d.Name != first.Name)] }, Hours(1)).Verdict("ship.as-cast", first.Name));
        Assert.Equal(Verdict.NotMet, InYard.Add(AsDrawn(surface: false), Hours(1)).Verdict("ship.as-cast", "surface"));
    }

    [Fact]
    public void A_unit_fits_its_mate_when_the_inspector_says_so_and_the_gap_is_inside_the_limit()
    {
        UnitCase Fitted(string gap, bool fits) => InYard.Limit("fit.gap", "1/2").Add(new UnitFitted(Unit, "RF-0002", R(gap), fits), Hours(2));
        Assert.Equal(Verdict.Met, Fitted("1/2", true).Verdict("ship.fit"));
        Assert.Equal(Verdict.NotMet, Fitted("9/16", true).Verdict("ship.fit"));
        Assert.Equal(Verdict.NotMet, Fitted("1/4", false).Verdict("ship.fit"));
        Assert.Equal(Verdict.Met, Fitted("9/16", true).Add(new UnitFitted("RF-0002", Unit, R("1/4"), true), Hours(3)).Verdict("ship.fit"));
    }

    private static UnitCase Mapped(params CrackSeen[] cracks) => InYard.Add(new CracksMapped(Unit, cracks, []), Hours(2));

    private static UnitCase Defect(DefectKind kind, string? depth) => InYard.Add(new CracksMapped(Unit, [], [new DefectSeen("leg", kind, depth is null ? null : R(depth))]), Hours(2));

    [Fact]
    [OutsideCheck("A crack 0.011 in wide and a spall 1/4 in deep on one unit", "two findings: the crack is more than may be left, the spall is cosmetic (3/8 in)", "Texas DMS-7305 for the depth; the crack by common practice of agencies", SourceMark.Published)]
    public void A_crack_and_a_defect_are_two_findings()
    {
        var both = InYard.Add(new CracksMapped(Unit, [new CrackSeen("soffit", R("0.011"))], [new DefectSeen("leg", DefectKind.Spall, R("1/4"))]), Hours(2));
        Assert.Equal((Verdict.NotMet, Verdict.Met), (both.Verdict("ship.cracks", "crack 1"), both.Verdict("ship.cracks", "defect 1")));
    }

    [Fact]
    public void Cracks_turn_exactly_at_the_width_that_may_be_left_and_at_a_bearing_none_may()
    {
        Assert.Equal(Verdict.Met, Mapped().Verdict("ship.cracks"));
        Assert.Equal(Verdict.Met, Mapped(new CrackSeen("soffit", R("0.006"))).Verdict("ship.cracks"));
        Assert.Equal(Verdict.NotMet, Mapped(new CrackSeen("soffit", R("0.007"))).Verdict("ship.cracks"));
        Assert.Equal(Verdict.NotMet, Mapped(new CrackSeen("seat", R("0.002"), AtBearing: true)).Verdict("ship.cracks"));
        Assert.Equal(Verdict.NotMet, Mapped(new CrackSeen("soffit", R("0.006"))).Limit("crack.width", _ => null).Verdict("ship.cracks"));
    }

    [Theory]
    [InlineData(DefectKind.Spall, "3/8", Verdict.Met)]
    [InlineData(DefectKind.Spall, "7/16", Verdict.NotMet)]
    [InlineData(DefectKind.Honeycomb, null, Verdict.NotMet)]
    [InlineData(DefectKind.Blemish, null, Verdict.Met)]
    [InlineData(DefectKind.ExposedSteel, "1/8", Verdict.NotMet)]
    [OutsideCheck("Damage 3/8 in and 7/16 in deep", "cosmetic, and not", "Texas Department of Transportation DMS-7305", SourceMark.Published)]
    public void Defects_are_judged_by_class_and_depth(DefectKind kind, string? depth, Verdict verdict) => Assert.Equal(verdict, Defect(kind, depth).Verdict("ship.cracks"));

    private static UnitCase Raised(UnitCase unit, bool structural = false, string? requirement = null, double at = 3) =>
        unit.Add(new NonconformanceRaised("NC-1", [Unit], structural ? NonconformanceClass.Major : NonconformanceClass.Minor, structural, "honeycomb at the leg", requirement), Hours(at));

    private static UnitCase Disposed(UnitCase unit, DispositionKind kind = DispositionKind.Repair, double at = 4) => unit.Add(new NonconformanceDisposed("NC-1", kind, "procedure P-2"), Hours(at));

    private static UnitCase Letter(UnitCase unit, Approver by = Approver.EngineerOfRecord, double at = 5) => unit.Add(new NonconformanceApproved("NC-1", by, "letter 12", Hours(at), []), Hours(at));

    private static UnitCase Closed(UnitCase unit) => unit.Add(new NonconformanceClosed("NC-1", "repaired and looked at"), Hours(30));

    [Fact]
    public void A_nonconformance_holds_the_unit_until_it_is_disposed_of_and_closed()
    {
        const string Id = "ship.nonconformances";
        Assert.Equal(Verdict.NotApplicable, InYard.Verdict(Id));
        Assert.Equal(Verdict.Missing, Raised(InYard).Verdict(Id));
        Assert.Equal(Verdict.Missing, Disposed(Raised(InYard)).Verdict(Id));
        Assert.Equal(Verdict.Missing, Closed(Raised(InYard)).Verdict(Id));
        Assert.Equal(Verdict.Met, Closed(Disposed(Raised(InYard))).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Closed(Disposed(Raised(InYard), DispositionKind.Reject)).Verdict(Id));
    }

    [Fact]
    public void A_structural_one_that_is_repaired_or_used_as_is_needs_the_engineers_letter()
    {
        const string Id = "ship.nonconformances";
        foreach (var kind in new[] { DispositionKind.Repair, DispositionKind.UseAsIs })
        {
            var disposed = Closed(Disposed(Raised(InYard, structural: true), kind));
            Assert.Equal(Verdict.Missing, disposed.Verdict(Id));
            Assert.Equal(Verdict.Missing, Letter(disposed, Approver.Agency).Verdict(Id));
            Assert.Equal(Verdict.Met, Letter(disposed).Verdict(Id));
        }
    }

    [Fact]
    public void A_defect_that_is_more_than_may_be_left_is_answered_by_a_closed_nonconformance_that_names_it()
    {
        var defect = Defect(DefectKind.Honeycomb, "1");
        Assert.Equal(Verdict.Met, Closed(Disposed(Raised(defect, requirement: "ship.cracks"))).Verdict("ship.cracks"));
        Assert.Equal(Verdict.NotMet, Disposed(Raised(defect, requirement: "ship.cracks")).Verdict("ship.cracks"));
        Assert.Equal(Verdict.NotMet, Closed(Disposed(Raised(defect))).Verdict("ship.cracks"));
    }

    [Fact]
    public void A_nonconformance_raised_before_a_map_does_not_answer_what_the_map_shows()
    {
        var defect = Defect(DefectKind.Honeycomb, "1");
        UnitCase Answered(params double[] raised) => Closed(Disposed(raised.Aggregate(defect, (unit, at) => Raised(unit, requirement: "ship.cracks", at: at))));
        Assert.Equal(Verdict.Met, Answered(2).Verdict("ship.cracks"));
        Assert.Equal(Verdict.NotMet, Answered(1.9).Verdict("ship.cracks"));
        Assert.Equal(Verdict.NotMet, Answered(1.9, 3).Verdict("ship.cracks"));
        var elsewhere = defect.Add(new NonconformanceRaised("NC-1", [Unit], NonconformanceClass.Minor, false, "honeycomb", "ship.cracks"), Hours(2).AddSeconds(1), source: "/test/other");
        Assert.Equal(Verdict.CannotTell, Closed(Disposed(elsewhere)).Verdict("ship.cracks"));
        var again = Closed(Disposed(Raised(defect, requirement: "ship.cracks"))).Add(new CracksMapped(Unit, [new CrackSeen("soffit", R("0.030"))], []), Hours(40));
        Assert.Equal(Verdict.NotMet, again.Verdict("ship.cracks"));
    }

    private static UnitCase Repaired(UnitCase unit, double began, string? number = "NC-1") =>
        unit.Add(new UnitRepaired(Unit, "procedure P-2", Hours(began), Hours(began + 1), number), Hours(began + 1));

    [Fact]
    public void A_repair_was_approved_before_it_began()
    {
        const string Id = "ship.repairs-approved";
        Assert.Equal(Verdict.NotApplicable, InYard.Verdict(Id));
        Assert.Equal(Verdict.Missing, Repaired(InYard, 6).Verdict(Id));
        Assert.Equal(Verdict.Missing, Repaired(Raised(InYard), 6).Verdict(Id));
        Assert.Equal(Verdict.Met, Repaired(Disposed(Raised(InYard)), 6).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Repaired(Disposed(Raised(InYard)), 3.5).Verdict(Id));
        Assert.Equal(Verdict.Missing, Repaired(Disposed(Raised(InYard, structural: true)), 6).Verdict(Id));
        Assert.Equal(Verdict.Met, Repaired(Letter(Disposed(Raised(InYard, structural: true))), 6).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Repaired(Letter(Disposed(Raised(InYard, structural: true))), 4.5).Verdict(Id));
    }

    [Fact]
    public void A_repair_that_names_no_nonconformance_is_never_met()
    {
        const string Id = "ship.repairs-approved";
        Assert.Equal(Verdict.NotApplicable, Repaired(InYard, 6, null).Verdict(Id));
        Assert.Equal(Verdict.CannotTell, Repaired(Raised(InYard), 6, null).Verdict(Id));
        Assert.Equal(Verdict.CannotTell, Repaired(InYard.Add(new UnitDamaged(Unit, "dropped"), Hours(2)), 6, null).Verdict(Id));
        var closed = Closed(Disposed(Raised(InYard)));
        Assert.Equal(Verdict.CannotTell, Repaired(closed, 6, null).Verdict(Id));
        Assert.Equal(Verdict.NotApplicable, Repaired(closed, 31, null).Verdict(Id));
        Assert.Equal(Verdict.NotApplicable, Repaired(Raised(InYard, at: 8), 6, null).Verdict(Id));
    }

    [Fact]
    public void Damage_needs_a_nonconformance_that_names_it()
    {
        const string Id = "ship.sound";
        var dropped = InYard.Add(new UnitDamaged(Unit, "dropped at the dunnage"), Hours(2));
        Assert.Equal(Verdict.NotMet, dropped.Verdict(Id));
        Assert.Equal(Verdict.Met, Raised(dropped, requirement: Id).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Raised(dropped, requirement: Id, at: 1).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Raised(dropped, requirement: "close-up.cover").Verdict(Id));
        Assert.Equal(Verdict.NotMet, Raised(dropped).Verdict(Id));
    }

    [Fact]
    public void Mark_stamp_documents_and_the_last_look_are_met_when_recorded_in_order()
    {
        Assert.Equal(Verdict.Met, InYard.Limit("asked.mark", "1").Add(new UnitMarked(Unit, "RF-1 N", true), Hours(1)).Verdict("ship.marked"));
        Assert.Equal(Verdict.NotMet, InYard.Add(new UnitMarked(Unit, "RF-1 N", false), Hours(1)).Verdict("ship.marked"));
        Assert.Equal(Verdict.Met, InYard.Limit("asked.stamp", "1").Add(new UnitStamped(Unit, "OK 14"), Hours(1)).Verdict("ship.stamped"));
        Assert.Equal(Verdict.Met, InYard.Limit("asked.load-certificate", "1").Add(new LoadCertificateIssued("DL-1", [Unit], new string('a', 64)), Hours(1)).Verdict("ship.documents"));
        Assert.Equal(Verdict.Pending, InYard.Limit("asked.load-certificate", "1").Add(new LoadCertificateIssued("DL-1", ["RF-0002"], new string('a', 64)), Hours(1)).Verdict("ship.documents"));
        UnitCase Look(bool secured, bool sound, bool marked) => InYard.Add(new LoadOutInspected(Unit, "T-7", secured, sound, marked), Hours(1));
        Assert.Equal(Verdict.Met, Look(true, true, true).Verdict("ship.load-out"));
        foreach (var fault in new[] { Look(false, true, true), Look(true, false, true), Look(true, true, false) }) Assert.Equal(Verdict.NotMet, fault.Verdict("ship.load-out"));
        Assert.Equal(Verdict.Met, Look(false, true, true).Add(new LoadOutInspected(Unit, "T-7", true, true, true), Hours(2)).Verdict("ship.load-out"));
    }
}
