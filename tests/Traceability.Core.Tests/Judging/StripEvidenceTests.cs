using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>Maturity in place of strip cylinders, the lift as it was done, dry-cast concrete.</summary>
public sealed class StripEvidenceTests
{
    private const string Id = "strip.strength";

    private static readonly UnitCase Unbroken = Good.Without<UnitShipped>().Without<UnitStripped>().Without<CylinderBroken>();

    private static string Mix => Good.The<UnitScheduled>().Mix;

    private static MaturityRelated Relation(string scale = "1", string verified = "3700", DateOnly? through = null)
    {
        var factor = R(scale).Value;
        MaturityTest Test(decimal maturity, string psi) => new(Core.Quantities.Reading.Of(maturity * factor), R(psi));
        return new(Mix, R("32"), [Test(50, "1980"), Test(150, "3450"), Test(400, "4480"), Test(1500, "5290"), Test(12000, "6010")],
            verified.Length == 0 ? [] : [Test(200, verified)], through ?? new DateOnly(2030, 1, 1), "MR-1");
    }

    private static UnitCase Permitted(MaturityRelated relation, UnitCase? unit = null) =>
        (unit ?? Unbroken).Limit("strip.maturity.verifications", "1").Add(relation, Good.RecordOf<MixApproved>().OccurredAt.At.AddHours(1));

    [Fact]
    public void Verified_maturity_stands_for_cylinders_that_were_not_broken_where_the_profile_permits_it()
    {
        Assert.Equal(Verdict.Pending, Unbroken.Verdict(Id));
        var judged = Permitted(Relation());
        Assert.Equal(Verdict.Met, judged.Verdict(Id, "maturity"));
        Assert.All(judged.Findings(Id), f => Assert.True(f.Allows, f.Reason));
        Assert.Equal(Verdict.Pending, Unbroken.Add(Relation(), Good.RecordOf<MixApproved>().OccurredAt.At.AddHours(1)).Verdict(Id));
    }

    [Fact]
    public void Maturity_never_stands_for_a_set_that_was_low()
    {
        var low = Permitted(Relation(), Good.Without<UnitShipped>().Change<CylinderBroken>(b => b.Cylinder.StartsWith("ST", StringComparison.Ordinal) ? b with { LoadLbf = R("9000") } : b));
        Assert.Contains(low.Findings(Id), f => f.Verdict == Verdict.NotMet);
    }

    [Fact]
    public void A_relation_that_lapsed_was_not_verified_or_does_not_reach_so_far_does_not_stand()
    {
        foreach (var relation in new[] { Relation(through: new DateOnly(2026, 1, 1)), Relation(verified: ""), Relation(verified: "5000"), Relation(scale: "400") })
        {
            var judged = Permitted(relation);
            Assert.NotEqual(Verdict.Met, judged.Verdict(Id, "maturity"));
            Assert.Contains(judged.Findings(Id), f => f.Verdict == Verdict.Pending);
        }
    }

    [Fact]
    public void Maturity_without_temperatures_or_with_a_probe_out_of_calibration_does_not_stand()
    {
        Assert.NotEqual(Verdict.Met, Permitted(Relation(), Unbroken.Without<CureTemperatures>()).Verdict(Id, "maturity"));
        var probe = Good.The<CureTemperatures>().Probe;
        Assert.NotEqual(Verdict.Met, Permitted(Relation(), Unbroken.Without<InstrumentCalibrated>(i => i.Instrument == probe)).Verdict(Id, "maturity"));
    }

    [Fact]
    public void Dry_cast_concrete_is_stripped_at_once()
    {
        var dry = Unbroken.Change<MixApproved>(m => m with { DryCast = true });
        Assert.Equal(Verdict.NotApplicable, dry.Verdict(Id));
        Assert.Equal(Verdict.NotApplicable, dry.Verdict("strip.lifting", "strength at the lift"));
    }

    [Fact]
    public void The_lifters_distance_from_the_edge_is_judged_as_lifted()
    {
        UnitCase Lifted(string? edge) => Good.Limit("lifting.edge-distance", "18").Change<UnitStripped>(s => s with { LifterEdgeIn = edge is null ? null : R(edge) });
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("strip.lifting", "lifter to edge"));
        Assert.Equal(Verdict.Met, Lifted("18").Verdict("strip.lifting", "lifter to edge"));
        Assert.Equal(Verdict.NotMet, Lifted("17 15/16").Verdict("strip.lifting", "lifter to edge"));
        Assert.Equal(Verdict.Missing, Lifted(null).Verdict("strip.lifting", "lifter to edge"));
        Assert.Equal(Verdict.NotApplicable, Lifted("18").Without<UnitStripped>().Verdict("strip.lifting", "lifter to edge"));
    }

    [Fact]
    public void The_sling_angle_is_that_of_the_drawing_until_the_lift_and_then_that_of_the_lift()
    {
        UnitCase Asked(UnitCase unit) => unit.Limit("lifting.sling-angle", "60");
        var drawn = Good.Change<DrawingApproved>(d => d with { Lifting = d.Lifting with { SlingAngleDeg = R("60") } });
        Assert.Equal(Verdict.Met, Asked(drawn.Without<UnitStripped>()).Verdict("strip.lifting", "sling angle"));
        Assert.Equal(Verdict.NotMet, Asked(drawn.Change<UnitStripped>(s => s with { SlingAngleDeg = R("59") })).Verdict("strip.lifting", "sling angle"));
        Assert.Equal(Verdict.Met, Asked(drawn.Change<UnitStripped>(s => s with { SlingAngleDeg = R("60") })).Verdict("strip.lifting", "sling angle"));
    }
}
