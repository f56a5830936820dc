using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Judging.Acceptance;
using Traceability.Core.Profiles;
using Traceability.PlantSimulator.Story;
using Traceability.Core.Records;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>Acceptance of the unit's concrete, judged apart from strip and ship, after shipping too.</summary>
public sealed class AcceptanceTests
{
    private const string Id = "acceptance.strength";

    // On 12.566 in2 of a 4 x 8 in cylinder.
    private static UnitCase Tests(string load, UnitCase? unit = null, string prefix = "AC") => (unit ?? Good).Change<CylinderBroken>(b =>
        b.Cylinder.StartsWith(prefix, StringComparison.Ordinal) ? b with { Diameter1In = R("4.00"), Diameter2In = R("4.00"), LengthIn = R("8"), LoadLbf = R(load) } : b);

    private const string Psi5000 = "62832", Psi4500 = "56549", Psi4490 = "56423", Psi4000 = "50266", Psi3990 = "50140";

    private static UnitCase ByProduct(UnitCase unit) => unit.Change<ProfilePublished>(p => p with { Editions = [new EditionChoice("acceptance-rule", "product-standard")] });

    private static string Sample => Good.The<SampleTested>().Sample;

    private static UnitCase Cored(UnitCase unit, string load, int cores = 3, string? days = "6", string machine = "CM-1")
    {
        var at = Good.At.AddDays(2);
        for (var i = 1; i <= cores; i++)
        {
            unit = unit.Add(new CoreTaken($"CO-{i}", Unit, "leg", Sample), at)
                .Add(new CoreBroken($"CO-{i}", R("4.00"), R("4.00"), R("8"), R(load), 3, machine, days is null ? null : R(days)), at.AddDays(6));
        }

        return unit.AsOf(Good.At.AddDays(20));
    }

    [Fact]
    public void The_tests_of_a_good_unit_are_accepted_whatever_happened_to_strip_and_ship()
    {
        Assert.Equal(Verdict.Met, Good.Verdict(Id));
        var unit = Good.Without<UnitStripped>().Without<UnitShipped>();
        Assert.Equal(Verdict.Met, unit.Verdict(Id));
        Assert.DoesNotContain(Good.Judge().Hold(HoldKind.Ship).OpenItems, o => o.Requirement.StartsWith("acceptance.", StringComparison.Ordinal));
    }

    [Fact]
    [OutsideCheck("A test of 4,500 and of 4,490 psi at f'c 5,000 psi", "accepted; investigation of the unit", "ACI 318-19, 26.12.3.1(b) and 26.12.6", SourceMark.Published)]
    public void A_single_test_turns_exactly_500_psi_below_the_design_strength()
    {
        Assert.Equal((Verdict.Met, Verdict.NotApplicable), (Tests(Psi4500).Verdict(Id), Tests(Psi4500).Verdict("acceptance.low-strength")));
        Assert.Equal((Verdict.NotMet, Verdict.Missing), (Tests(Psi4490).Verdict(Id), Tests(Psi4490).Verdict("acceptance.low-strength")));
    }

    [Fact]
    public void Above_5000_psi_a_share_of_the_design_strength_counts()
    {
        var strong = Good.Change<DrawingApproved>(d => d with { DesignStrengthPsi = R("6000") });
        Assert.Equal(Verdict.Met, Tests("67858", strong).Verdict(Id));
        Assert.Equal(Verdict.NotMet, Tests("67733", strong).Verdict(Id));
    }

    [Fact]
    public void Before_its_age_the_test_is_pending_and_afterwards_missing()
    {
        var waiting = Good.Without<CylinderBroken>(b => b.Cylinder.StartsWith("AC", StringComparison.Ordinal));
        var cast = Good.The<SampleTested>().MouldedAt;
        Assert.Equal(Verdict.Pending, waiting.AsOf(cast.AddDays(20)).Verdict(Id));
        Assert.NotNull(waiting.AsOf(cast.AddDays(20)).Finding(Id).Due);
        Assert.Equal(Verdict.Missing, waiting.AsOf(cast.AddDays(30)).Verdict(Id));
        Assert.Equal(Verdict.Missing, Good.Without<SampleTested>().Verdict(Id));
    }

    [Fact]
    public void A_mix_with_an_age_of_its_own_is_tested_at_that_age()
    {
        var later = Good.Change<MixApproved>(m => m with { AcceptanceAgeDays = 56 });
        Assert.NotEqual(Verdict.Met, later.Verdict(Id));
        Assert.Equal(Verdict.Met, later.Move<CylinderBroken>(TimeSpan.FromDays(28)).AsOf(Good.At.AddDays(40)).Verdict(Id));
    }

    [Fact]
    public void An_approval_since_with_another_age_makes_no_low_test_too_young()
    {
        var mix = Good.The<MixApproved>();
        var poured = Matter.DayOf(Good.The<PourPlaced>().StartedAt);
        UnitCase Approved(UnitCase unit, int days) => unit.Add(mix with { ApprovedOn = poured.AddDays(days), ValidThrough = null, AcceptanceAgeDays = 56, DesignStrengthPsi = R("3000") }, Good.At);
        foreach (var requirement in new[] { Id, "ship.strength" })
        {
            Assert.Equal(Verdict.NotMet, Approved(Tests("45000"), 30).Verdict(requirement));
            Assert.Equal(Verdict.Met, Approved(Good, 30).Verdict(requirement));
        }

        var from = Approved(Tests("45000"), -1);
        Assert.NotEqual(Verdict.NotMet, from.Verdict(Id));
        Assert.Equal(Verdict.NotMet, from.Move<CylinderBroken>(TimeSpan.FromDays(28)).AsOf(Good.At.AddDays(60)).Verdict(Id));
    }

    [Fact]
    [OutsideCheck("Permissible tolerance of a test at 56 days", "2 % of the age: 26.88 h either way", "ASTM C39/C39M, permissible time tolerances", SourceMark.Memory)]
    public void An_age_of_its_own_has_the_tolerance_of_that_age()
    {
        var later = Good.Change<MixApproved>(m => m with { AcceptanceAgeDays = 56 }).AsOf(Good.At.AddDays(60));
        var broken = Good.RecordOf<CylinderBroken>(b => b.Cylinder == "AC1").OccurredAt.At;
        var off = TimeSpan.FromDays(56) - (broken - Good.The<SampleTested>().MouldedAt);
        Assert.Equal(Verdict.Met, later.Move<CylinderBroken>(off + TimeSpan.FromHours(25)).Verdict(Id));
        Assert.NotEqual(Verdict.Met, later.Move<CylinderBroken>(off + TimeSpan.FromHours(28)).Verdict(Id));
    }

    private static UnitCase CuredWithUnit(UnitCase unit) => unit.Change<SampleTested>(s => s with { Cylinders = [.. s.Cylinders.Select(c => c.Purpose == CylinderPurpose.Acceptance ? c with { Curing = CuringPlace.WithUnit } : c)] });

    [Fact]
    [OutsideCheck("Cylinders cured with the unit as an acceptance test", "no acceptance test: standard-cured cylinders are for acceptance, field-cured ones for stripping and strength in place", "ASTM C31/C31M-24b, 4", SourceMark.Published)]
    public void Cylinders_cured_with_the_unit_are_no_acceptance_test_and_a_low_one_stays()
    {
        var cured = CuredWithUnit(Good);
        Assert.Equal(Verdict.Missing, cured.Verdict(Id));
        Assert.Contains("it was not standard-cured", cured.Finding(Id).Reason, StringComparison.Ordinal);
        Assert.Equal(Verdict.Pending, cured.Without<CylinderBroken>(b => b.Cylinder.StartsWith("SH", StringComparison.Ordinal)).Without<UnitShipped>().Verdict("ship.strength"));
        Assert.Equal(Verdict.NotMet, CuredWithUnit(Tests(Psi4490)).Verdict(Id));
        Assert.Equal(Verdict.Met, CuredWithUnit(ByProduct(Good)).Verdict(Id));
    }

    [Fact]
    public void In_the_series_a_break_that_was_not_standard_cured_counts_only_when_it_is_low()
    {
        var rule = new TestRule(28, 20, 3, 2, 2, RoundingRule.HalfEven) { LowPsi = 5000 };
        SampleStrength Of(UnitCase unit) => Assert.Single(StrengthSeries.Of(Assemble.Counted(unit.Records, PlantStory.Time), rule));
        Assert.NotNull(Of(Good).Psi);
        Assert.Null(Of(CuredWithUnit(Good)).Psi);
        Assert.Equal(4490, Of(CuredWithUnit(Tests(Psi4490))).Psi);
    }

    [Fact]
    [OutsideCheck("One test of a lot at 4,000 and at 3,990 psi, f'c 5,000 psi", "not accepted by its mean; below 0.80 f'c as well", "ASTM C1577, acceptability of compressive strength", SourceMark.Memory)]
    public void A_product_standard_asks_the_mean_at_any_age_up_to_the_stated_one()
    {
        Assert.Equal(Verdict.Met, ByProduct(Tests(Psi5000)).Verdict(Id));
        Assert.Equal(Verdict.NotMet, ByProduct(Tests("62706")).Verdict(Id));
        Assert.Equal(Verdict.NotMet, ByProduct(Tests(Psi4000)).Verdict(Id));
        Assert.Equal(Verdict.NotMet, ByProduct(Tests(Psi3990)).Verdict(Id));
        var early = ByProduct(Good).Move<CylinderBroken>(TimeSpan.FromDays(-14));
        Assert.Equal(Verdict.Met, early.Verdict(Id));
        Assert.Equal(Verdict.NotApplicable, early.Verdict("acceptance.running-mean"));
    }

    [Fact]
    [OutsideCheck("A low test with three cores of 4,250 psi and of 4,200 psi at f'c 5,000 psi, compared to whole percent", "cleared at 85 %, not at 84 %", "ACI 318-19, 26.12.6.1(e)", SourceMark.Published)]
    public void Cores_speak_for_the_concrete_of_a_low_test()
    {
        var cored = Cored(Tests(Psi4490), "53407");
        Assert.Equal((Verdict.Met, Verdict.Met), (cored.Verdict(Id), cored.Verdict("acceptance.low-strength")));
        var weak = Cored(Tests(Psi4490), "52779");
        Assert.Equal((Verdict.NotMet, Verdict.NotMet), (weak.Verdict(Id), weak.Verdict("acceptance.low-strength")));
        Assert.Equal(Verdict.Missing, Cored(Tests(Psi4490), "53407", cores: 2).Verdict("acceptance.low-strength"));
        Assert.Equal(Verdict.NotMet, Cored(Tests(Psi4490), "40000", cores: 2).Verdict("acceptance.low-strength"));
    }

    [Fact]
    public void A_core_without_its_conditioning_or_from_a_machine_out_of_calibration_counts_as_missing_when_it_is_good()
    {
        foreach (var days in new[] { null, "2", "9" }) Assert.Equal(Verdict.Missing, Cored(Tests(Psi4490), "60000", days: days).Verdict("acceptance.low-strength"));
        Assert.Equal(Verdict.Missing, Cored(Tests(Psi4490), "60000", machine: "CM-9").Verdict("acceptance.low-strength"));
        Assert.Equal(Verdict.NotMet, Cored(Tests(Psi4490), "40000", machine: "CM-9").Verdict("acceptance.low-strength"));
    }

    [Fact]
    public void Companions_far_apart_are_a_remark_and_where_the_method_states_no_range_it_does_not_apply()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("acceptance.companions"));
        UnitCase Large(string first, string second) => Good.Without<CylinderBroken>(b => b.Cylinder == "AC3")
            .Change<SampleTested>(s => s with { Cylinders = [.. s.Cylinders.Select(c => c.Purpose == CylinderPurpose.Acceptance ? c with { Size = "6x12" } : c)] })
            .Change<CylinderBroken>(b => b.Cylinder.StartsWith("AC", StringComparison.Ordinal) ? b with { Diameter1In = R("6"), Diameter2In = R("6"), LengthIn = R("12"), LoadLbf = R(b.Cylinder == "AC1" ? first : second) } : b);
        Assert.Equal(Verdict.Met, Large("147310", "158050").Verdict("acceptance.companions"));
        Assert.Equal(Verdict.Provisional, Large("147310", "170000").Verdict("acceptance.companions"));
        Assert.Equal(Verdict.Met, Large("147310", "170000").Verdict(Id));
    }

    [Theory]
    [InlineData("60", "80", 47, true, Verdict.Met)]
    [InlineData("59", "80", 47, true, Verdict.NotMet)]
    [InlineData("60", "81", 47, true, Verdict.NotMet)]
    [InlineData("60", "80", 48.5, true, Verdict.NotMet)]
    [InlineData("60", "80", 48, false, Verdict.NotMet)]
    [OutsideCheck("Initial cure of f'c 5,000 psi acceptance cylinders: 60 to 80 F for 47 h; 59 F; 81 F; 48.5 h", "inside; outside, outside, too long", "ASTM C31/C31M, 10.1.2", SourceMark.Published)]
    public void The_initial_cure_is_judged_when_it_is_recorded(string low, string high, double hours, bool moist, Verdict verdict)
    {
        var sample = Good.The<SampleTested>();
        var probe = Good.The<CureTemperatures>().Probe;
        var cylinders = sample.Cylinders.Where(c => c.Purpose == CylinderPurpose.Acceptance).Select(c => c.Cylinder).ToList();
        var cured = Good.Add(new InitialCureRecorded(sample.Sample, cylinders, sample.MouldedAt, sample.MouldedAt.AddHours(hours), R(low), R(high), moist, [probe]), sample.MouldedAt.AddHours(hours));
        Assert.Equal(verdict, cured.Verdict("acceptance.initial-cure"));
    }

    [Fact]
    public void The_initial_cure_is_asked_where_the_profile_asks_it()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("acceptance.initial-cure"));
        Assert.Equal(Verdict.Missing, Good.Limit("asked.initial-cure", "1").Verdict("acceptance.initial-cure"));
    }

    [Fact]
    public void The_unit_is_represented_by_a_valid_test_or_by_permission()
    {
        const string Represented = "acceptance.represented";
        Assert.Equal(Verdict.Met, Good.Verdict(Represented));
        var tester = Good.RecordOf<SampleTested>().Person!;
        Assert.Equal(Verdict.Missing, Good.Without<PersonCertified>(p => p.Person == tester).Verdict(Represented));
        Assert.Equal(Verdict.Missing, Good.Without<SampleTested>().Verdict(Represented));
        var permitted = Good.Without<SampleTested>().Add(new SamplingLotDefined("SL-1", SamplingBasis.UnitGroup, Good.The<UnitScheduled>().Mix, [Unit], false, SkippedByPermission: "letter 9"), Good.RecordOf<PourPlaced>().OccurredAt.At);
        Assert.Equal(Verdict.NotApplicable, permitted.Verdict(Represented));
    }

    [Fact]
    public void The_tally_of_foreign_steel_is_never_met_by_the_plant()
    {
        Assert.Equal(Verdict.NotApplicable, Good.Verdict("acceptance.domestic-tally"));
        Assert.Equal(Verdict.Pending, Good.Limit("asked.domestic-tally", "1").Verdict("acceptance.domestic-tally"));
        Assert.Equal(HoldState.Held, Good.Limit("asked.domestic-tally", "1").Judge().Hold(HoldKind.Acceptance).State);
    }

    [Fact]
    public void What_a_packet_left_pending_is_answered_by_a_supplement()
    {
        const string Sent = "acceptance.supplements";
        Assert.Equal(Verdict.NotApplicable, Good.Verdict(Sent));
        var item = new PendingItem(Unit, Id, "sample:" + Sample);
        UnitCase Packet(params PendingItem[] pending) => Good.Add(new RecordPacketIssued("PK-1", [Unit], new string('a', 64), pending), Good.At);
        Assert.Equal(Verdict.Met, Packet().Verdict(Sent));
        Assert.Equal(Verdict.Pending, Packet(item).Verdict(Sent));
        Assert.Equal(Verdict.Pending, Packet(item).Add(new SupplementIssued("PK-1", 1, [Unit], new string('b', 64), "none", []), Good.At).Verdict(Sent));
        Assert.Equal(Verdict.Met, Packet(item).Add(new SupplementIssued("PK-1", 1, [Unit], new string('b', 64), "3", [item]), Good.At).Verdict(Sent));
    }

    [Fact]
    public void Fewer_than_three_tests_in_a_row_have_no_mean() => Assert.Equal(Verdict.NotApplicable, Good.Verdict("acceptance.running-mean"));
}
