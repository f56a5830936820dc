using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Tests.Judging;
using Traceability.PlantSimulator.Story;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Profiles;

/// <summary>
/// The same unit under the invented agencies: the verdicts differ where the agencies do and nowhere else. The agencies stand
/// for habits of real ones, whose documents the checks cite.
/// </summary>
public sealed class AgenciesTests
{
    private const string North = "invented-north@1", East = "invented-east@1", West = "invented-west@2", Crossing = "invented-north-crossing@1", Plan = "invented-plant-plan@1";

    private const Verdict Met = Verdict.Met, NotMet = Verdict.NotMet;

    /// <summary>The unit's contract adopted another profile; the fact keeps the name the contract knows.</summary>
    private static UnitCase Under(string agency, UnitCase unit) =>
        unit.Change<ProfilePublished>(p => ProfileFile.Shipped(agency) with { Profile = p.Profile, Version = p.Version });

    private static Verdict[] Verdicts(UnitCase unit, string requirement, string? subject = null) =>
        [.. new[] { North, East, West }.Select(a => Under(a, unit).Verdict(requirement, subject))];

    private static UnitCase Mill(Func<LotCertified, LotCertified> change) => Good.Change<LotCertified>(c => c.Size == "#5" ? change(c) : c);

    [Theory]
    [InlineData("8.5", NotMet, Met, NotMet)]
    [InlineData("8.6", Met, Met, NotMet)]
    [InlineData("8.4", NotMet, NotMet, NotMet)]
    [InlineData("9", Met, Met, Met)]
    [OutsideCheck("Elongation of 8.5 % and 8.6 % against a limit printed \"9\": halves to even, halves up, truncated", "not met, met, not met; met, met, not met", "ASTM E29, rounding method; Iowa DOT, Instructional Memorandum 202; Louisiana DOTD rounding rules (2018)", SourceMark.Published)]
    public void An_exact_half_is_rounded_as_the_agency_rounds(string elongation, Verdict north, Verdict east, Verdict west) =>
        Assert.Equal([north, east, west], Verdicts(Mill(c => c with { ElongationPct = R(elongation) }), "tying.mill-values", "#5 elongation"));

    [Theory]
    [InlineData("49.5", Met, Met, NotMet)]
    [InlineData("95.5", NotMet, NotMet, Met)]
    [InlineData("95.4", Met, Met, Met)]
    [OutsideCheck("Concrete of 49.5 F and 95.5 F against limits printed \"50\" and \"95\": rounded and truncated", "met, met, not met; not met, not met, met", "ASTM E29, rounding method; Iowa DOT, Instructional Memorandum 202; Louisiana DOTD rounding rules (2018)", SourceMark.Published)]
    public void Truncating_favours_a_largest_value_and_hurts_a_smallest(string temperature, Verdict north, Verdict east, Verdict west) =>
        Assert.Equal([north, east, west], Verdicts(Good.Change<SampleTested>(s => s with { TemperatureF = R(temperature) }), "place.temperature"));

    [Theory]
    [InlineData("2.00", Met, Met)]
    [InlineData("1.99", NotMet, Met)]
    [InlineData("2.375", Met, Met)]
    [InlineData("2.40", NotMet, Met)]
    [OutsideCheck("Cover of 2.00, 1.99, 2.375 and 2.40 in where 2 in +3/8 -0 is asked", "met, not met, met, not met", "Virginia Department of Transportation, box-culvert solicitation", SourceMark.Published)]
    public void Cover_that_may_only_be_more_than_specified(string cover, Verdict north, Verdict east)
    {
        var unit = Good.Change<CloseUpInspected>(i => i with { Covers = [.. i.Covers.Select(c => c.Place.StartsWith("south leg", StringComparison.Ordinal) ? c with { CoverIn = R(cover) } : c)] });

        Assert.Equal([north, east, east], Verdicts(unit, "close-up.cover", "south leg"));
    }

    private static UnitCase Discharged(int minutes)
    {
        var ticket = Good.The<BatchTicketed>();
        return Good.Change<PourPlaced>(p => p with { FinishedAt = ticket.ChargedAt.AddMinutes(minutes), Rows = [.. p.Rows.Where(r => r.Batch == ticket.Batch)] });
    }

    [Theory]
    [InlineData(85, Met, Verdict.NotApplicable, Met, Met, Met)]
    [InlineData(95, NotMet, Verdict.NotApplicable, NotMet, Met, Met)]
    [InlineData(110, NotMet, Verdict.NotApplicable, NotMet, Met, NotMet)]
    [InlineData(130, NotMet, Verdict.NotApplicable, NotMet, NotMet, NotMet)]
    [OutsideCheck("95 minutes to discharge where the contract keeps 90 minutes and where the producer sets the time", "not met; no limit of the contract", "ASTM C94/C94M before C94/C94M-21, 10.7; C94/C94M-21, 6.1.10", SourceMark.Published)]
    public void Ninety_minutes_are_kept_set_by_the_producer_overridden_or_tightened_by_the_plan(int minutes, Verdict north, Verdict east, Verdict west, Verdict crossing, Verdict plan)
    {
        var unit = Discharged(minutes);
        var ticket = unit.The<BatchTicketed>().About.Key;

        Assert.Equal([north, east, west], Verdicts(unit, "place.discharge", ticket));
        Assert.Equal([crossing, plan], new[] { Crossing, Plan }.Select(a => Under(a, unit).Verdict("place.discharge", ticket)));
    }

    private static UnitCase InGroup(int units, UnitCase? unit = null, SamplingBasis basis = SamplingBasis.UnitGroup) => (unit ?? Good)
        .Change<SampleTested>(s => s with { SamplingLot = "SL-1" })
        .Add(new SamplingLotDefined("SL-1", basis, Good.The<MixApproved>().Mix, [Unit, .. Enumerable.Range(2, units - 1).Select(i => $"RF-{i:D4}")], false), Good.Records[0].OccurredAt.At.AddDays(1));

    [Fact]
    [OutsideCheck("A test that stands for a group of 15 units, of 16, and none", "represented, not, not", "AASHTO M 259-92, 5 and 10.3: one unit of each group of 15 or fraction", SourceMark.Published)]
    public void What_a_test_stands_for_is_a_volume_a_day_or_a_group_of_units()
    {
        Verdict[] Represented(UnitCase unit) => [.. new[] { North, East, West }.Select(a => Under(a, unit).Findings("place.represented").Select(f => f.Verdict).Max())];

        Assert.Equal([Met, Met, Verdict.Missing], Represented(Good));
        Assert.Equal([Met, Met, Met], Represented(InGroup(15)));
        Assert.Equal([Met, Met, Verdict.Missing], Represented(InGroup(16)));
        Assert.Equal([Met, Met, Verdict.Missing], Represented(InGroup(15, basis: SamplingBasis.MixAndDay)));
        Assert.Contains("16 units", Under(West, InGroup(16)).Findings("place.represented")[0].Reason, StringComparison.Ordinal);

        var large = Good.Change<PourPlaced>(p => p with { Rows = [.. p.Rows.Select(r => r with { VolumeYd3 = R("40") })] });
        Assert.Equal([Verdict.Missing, Met], Represented(large)[..2]);
        Assert.All(Represented(Good.Without<SampleTested>()), v => Assert.Equal(Verdict.Missing, v));
        Assert.All(Represented(InGroup(15, Good.By<SampleTested>("p-112"))), v => Assert.Equal(Verdict.Missing, v));
    }

    [Fact]
    public void By_day_a_sample_of_another_units_batch_stands_for_the_unit_of_its_lot()
    {
        var other = Good.Change<SampleTested>(s => s with { Batch = s.Batch with { Ticket = "another" } });

        Assert.Equal(Verdict.Missing, Under(East, other).Findings("place.represented")[0].Verdict);
        Assert.Equal(Met, Under(East, InGroup(3, other, SamplingBasis.MixAndDay)).Findings("place.represented")[0].Verdict);
        var elsewhen = other.Change<SampleTested>(s => s with { Batch = s.Batch with { Date = s.Batch.Date.AddDays(1) } });
        Assert.Equal(Verdict.Missing, Under(East, InGroup(3, elsewhen, SamplingBasis.MixAndDay)).Findings("place.represented")[0].Verdict);
    }

    [Fact]
    public void What_is_asked_of_the_finished_unit_is_the_agencys()
    {
        string[] asked = ["ship.as-cast", "ship.cracks", "ship.marked", "ship.stamped", "ship.load-out", "ship.documents"];
        Assert.All(asked, requirement => Assert.Equal([Verdict.NotApplicable, Verdict.Missing, Verdict.NotApplicable], Verdicts(Good, requirement)));
        Assert.Equal([Verdict.NotApplicable, Verdict.Pending, Verdict.NotApplicable], Verdicts(Good, "acceptance.domestic-tally"));
        Assert.Equal([Verdict.NotApplicable, Verdict.Missing, Verdict.NotApplicable], Verdicts(Good, "strip.lifting", "lifter to edge"));
    }

    [Fact]
    [OutsideCheck("An admixture of 0.10 %, of 0.11 % and of 49 % chloride where admixtures with chloride are banned", "met, not met, not met", "Agencies that ban calcium chloride", SourceMark.CommonPractice)]
    public void Admixtures_with_chloride_are_banned_where_the_agency_bans_them()
    {
        var lots = Good.Records.Select(r => r.Fact).OfType<BatchTicketed>().SelectMany(t => t.Ingredients).Where(i => i.Material == Material.Admixture).Select(i => i.Lot).ToHashSet();
        UnitCase Stating(string? pct) => Good.Change<LotCertified>(c => lots.Contains(c.Lot) ? c with { ChloridePct = pct is null ? null : R(pct) } : c);
        Verdict[] Of(string agency, string? pct) => [.. Under(agency, Stating(pct)).Findings("place.chloride-admixtures").Select(f => f.Verdict).Distinct()];

        Assert.Equal([Met], Of(East, "0.10"));
        Assert.Equal([NotMet], Of(East, "0.11"));
        Assert.Equal([NotMet], Of(East, "49"));
        Assert.Equal([Verdict.Missing], Of(East, null));
        Assert.Equal([Verdict.NotApplicable], Of(North, "49"));
    }

    // Cement 300 lb, slag 400 lb, and an admixture that brings 0.6 lb of chloride.
    private static readonly UnitCase Chlorided = Good.Change<BatchTicketed>(t => t with
    {
        Ingredients =
        [
            .. t.Ingredients.Where(i => i.Material is Material.FineAggregate or Material.CoarseAggregate),
            t.Ingredients.First(i => i.Material == Material.Cement) with { BatchedLb = R("300") },
            new Weighed(Material.SupplementaryCementitious, "slag", R("400"), R("400")),
            t.Ingredients.First(i => i.Material == Material.Admixture) with { BatchedLb = R("3") },
        ],
        HandAdditions = null,
    }).Change<LotCertified>(c => Good.The<BatchTicketed>().Ingredients.First(i => i.Material == Material.Admixture).Lot == c.Lot ? c with { ChloridePct = R("20") } : c);

    [Fact]
    [OutsideCheck("0.6 lb of chloride on 300 lb of cement and 400 lb of slag against 0.15 %: cementitious with slag up to the cement, and cement alone", "0.10 % met; 0.20 % not met", "ACI 318-19, Table 19.3.2.1 (cap from memory), and ACI 318-14, Table 19.3.2.1", SourceMark.Memory)]
    public void The_basis_of_the_chloride_limit_is_the_editions()
    {
        Assert.All(Under(East, Chlorided).Findings("place.chloride"), f => Assert.Equal((Met, "0.1 % of cementitious materials"), (f.Verdict, f.Observed)));
        Assert.All(Under(West, Chlorided).Findings("place.chloride"), f => Assert.Equal((NotMet, "0.2 % of cement"), (f.Verdict, f.Observed)));
    }

    [Fact]
    [OutsideCheck("Clause of the low-strength investigation by edition", "26.12.6 in ACI 318-19, 26.12.4 in ACI 318-14", "ACI 318-19, 26.12.6.1(e); ACI 318-14 from memory", SourceMark.Memory)]
    public void The_clause_of_a_low_test_is_the_editions()
    {
        Citation Cited(string agency) => ProfileFile.Shipped(agency).Limits.Single(l => l.Key == "core.mean").Source;

        Assert.Equal(("318-19", "26.12.6.1(e)"), (Cited(North).Edition, Cited(North).Clause));
        Assert.Equal(("318-14", "26.12.4"), (Cited(West).Edition, Cited(West).Clause));
    }

    [Fact]
    public void A_check_sample_of_the_agency_is_asked_where_its_manual_asks_for_one()
    {
        const string Id = "acceptance.check-test";
        var sampled = Good.Add(new AgencySampleTaken(Good.The<BatchTicketed>().Batch, "CK-7", "three cylinders"), Good.At.AddDays(-30));

        Assert.Equal([Verdict.NotApplicable, Verdict.Missing, Verdict.NotApplicable], Verdicts(Good, Id));
        Assert.Equal(Met, Under(East, sampled).Verdict(Id));
        Assert.Equal(Verdict.Missing, Under(East, sampled.Change<AgencySampleTaken>(s => s with { Batch = s.Batch with { Ticket = "another" } })).Verdict(Id));
    }

    [Fact]
    public void A_core_of_every_unit_is_asked_where_the_handbook_asks_for_one()
    {
        const string Id = "acceptance.unit-cores";
        UnitCase Cored(string load, string? lowTest = null) => Good.Add(new CoreTaken("CO-1", Unit, "leg", lowTest), Good.At.AddDays(-9))
            .Add(new CoreBroken("CO-1", R("4.00"), R("4.00"), R("8"), R(load), 3, "CM-1", R("6")), Good.At.AddDays(-2));

        Assert.Equal([Verdict.NotApplicable, Verdict.NotApplicable, Verdict.Missing], Verdicts(Good, Id));
        Assert.Equal(Met, Under(West, Cored("62832")).Verdict(Id));
        // 3,700 psi are 74 % of 5,000 psi; 4,200 psi are 84 %.
        Assert.Equal(NotMet, Under(West, Cored("46496")).Verdict(Id));
        Assert.Equal(NotMet, Under(West, Cored("52779")).Verdict(Id));
        Assert.Equal(Verdict.Missing, Under(West, Cored("62832", Good.The<SampleTested>().Sample)).Verdict(Id));
    }

    [Fact]
    [OutsideCheck("Acceptance cylinders broken at 28 days and at 7 days: 28-day tests, 56-day tests, any age up to 28 days", "met, not yet, met; not yet, not yet, met", "ACI 318-19, 26.12; agencies with 56-day tests; ASTM C1577 from memory", SourceMark.Memory)]
    public void Strength_is_accepted_at_the_agencys_age_or_earlier_by_the_product_standard()
    {
        const string Id = "acceptance.strength";
        bool Accepts(UnitCase unit) => unit.Findings(Id).All(f => f.Verdict == Met);
        bool[] Accepted(UnitCase unit) => [.. new[] { North, East, West }.Select(a => Accepts(Under(a, unit)))];
        var early = Good.Change<CylinderBroken>((b, _) => b, time: r => ((CylinderBroken)r.Fact!).Cylinder.StartsWith("AC", StringComparison.Ordinal) ? r.Sent.Time.AddDays(-21) : r.Sent.Time);
        var day8 = Good.The<SampleTested>().MouldedAt.AddDays(8);

        Assert.Equal([true, false, true], Accepted(Good));
        Assert.Equal([false, false, true], Accepted((early with { Records = [.. early.Records.Where(r => r.OccurredAt.At <= day8)] }).AsOf(day8)));
    }

    private static UnitCase Peaked(string f) => Good.Change<CureTemperatures>(c => c with
    {
        Readings = [.. new (double Hours, string F)[] { (0, "70"), (4, "75"), (6, "130"), (8, f), (12, "120") }.Select(r => new TemperatureReading(c.Readings[0].At.AddHours(r.Hours), R(r.F)))],
        InitialSetAt = c.Readings[0].At.AddHours(4),
    });

    [Theory]
    [InlineData("149", Met, Met, Met)]
    [InlineData("155", Met, Met, NotMet)]
    [InlineData("159", NotMet, Met, NotMet)]
    [InlineData("161", NotMet, NotMet, NotMet)]
    [OutsideCheck("Peaks of 155, 159 and 161 F under ceilings of 158, 160 and 150 F", "met, met, not met; not met, met, not met; not met", "PCI MNL-116; AASHTO LRFD Bridge Construction Specifications, 8.11.3.5; NPCA quality control manual", SourceMark.Memory)]
    public void The_ceiling_of_the_cure_is_the_agencys(string peak, Verdict north, Verdict east, Verdict west) =>
        Assert.Equal([north, east, west], Verdicts(Peaked(peak), "strip.curing", "peak"));

    [Theory]
    [InlineData("rigid-frame", "165", NotMet)]
    [InlineData("Box culvert", "165", Met)]
    [InlineData("Box culvert", "171", NotMet)]
    [InlineData("manhole", "165", NotMet)]
    public void A_ceiling_for_one_product_is_its_own(string product, string peak, Verdict expected) =>
        Assert.Equal(expected, Under(West, Peaked(peak).Change<DrawingApproved>(d => d with { Product = product })).Verdict("strip.curing", "peak"));

    [Fact]
    [OutsideCheck("A rise of 38 F/h under 36 and 40 F/h", "not met; met", "PCI MNL-116 (36 F/h); AASHTO LRFD Bridge Construction Specifications, 8.11.3.5 (40 F/h)", SourceMark.Memory)]
    public void The_rise_of_the_cure_is_the_agencys()
    {
        var unit = Good.Change<CureTemperatures>(c => c with { Readings = [.. new (double Hours, string F)[] { (0, "70"), (4, "75"), (5, "113"), (12, "100") }.Select(r => new TemperatureReading(c.Readings[0].At.AddHours(r.Hours), R(r.F)))] });

        Assert.Equal([NotMet, Met, Met], Verdicts(unit, "strip.curing", "rise"));
    }

    [Fact]
    [OutsideCheck("Grade 60 bar with a tensile strength of 85,000 psi and 1.29 times its yield, by edition", "met from A615-20 on, not met before", "ASTM A615/A615M, tensile requirements", SourceMark.Memory)]
    public void The_tensile_strength_is_the_editions()
    {
        var unit = Mill(c => c with { YieldPsi = R("66000"), TensilePsi = R("85000") });

        Assert.Equal([Met, Met, NotMet], Verdicts(unit, "tying.mill-values", "#5 tensile strength"));
        Assert.Contains(Under(North, unit).Findings("tying.mill-values"), f => f.Subject.EndsWith("ratio of tensile to yield", StringComparison.Ordinal));
        Assert.DoesNotContain(Under(West, unit).Findings("tying.mill-values"), f => f.Subject.EndsWith("ratio of tensile to yield", StringComparison.Ordinal));
    }

    [Fact]
    public void The_least_age_at_shipment_is_the_agencys_and_the_special_provisions()
    {
        Assert.Equal([Met, NotMet, Met], Verdicts(Good, "ship.minimum-age"));
        Assert.Equal("10", Under(Crossing, Good).The<ProfilePublished>().Limits.Single(l => l.Key == "ship.minimum-age").Value.Text);
    }

    [Fact]
    public void An_agency_that_orders_its_documents_otherwise_gets_its_own_winner()
    {
        var west = ProfileFile.Shipped(West);

        Assert.Equal(("1/4", LimitRank.StandardSpecification), west.Limits.Where(l => l.Key == "dimension.length").Select(l => (l.Value.Text, l.Rank)).Single());
        Assert.Contains(west.Overruled!, o => o.Stated.Key == "dimension.length" && o.Stated.Value.Text == "3/8" && o.Why == OverruledWhy.Precedence);
    }

    [Fact]
    public void Dry_cast_products_are_not_asked_for_a_flow()
    {
        var manhole = Under(North, Good.Change<DrawingApproved>(d => d with { Product = "manhole" }).Change<SampleTested>(s => s with { FlowIn = null, StabilityIndex = null }));

        Assert.Equal((Verdict.NotApplicable, Verdict.NotApplicable), (manhole.Verdict("place.flow"), manhole.Verdict("place.stability")));
    }

    [Fact]
    public void A_plan_that_tries_to_loosen_is_refused_with_line_and_reason()
    {
        const string file = "plant-plan-that-loosens.yaml";
        using var reader = new StreamReader(Repository.Path("tests", "Traceability.Core.Tests", "Profiles", "refused", file));

        var compiled = ProfileCompiler.Compile(ProfileFile.Read(file, reader).Document!, name => ProfileFile.AllShipped.FirstOrDefault(d => d.Name == name));

        Assert.Null(compiled.Profile);
        var error = Assert.Single(compiled.Errors);
        Assert.Equal((file, 13), (error.File, error.Line));
        Assert.Equal("The plant's plan loosens cure.ramp from 36 to 45 F/h; the smaller of two largest values is the tighter.", error.Reason);
    }

    [Fact]
    public void The_same_unit_is_judged_under_two_profiles_side_by_side()
    {
        var peaked = Peaked("159");
        var left = Core.Dossiers.Assemble.Unit(new(Core.Records.Subject.Unit(Unit), 1000, Under(North, peaked).Records, PlantStory.Time));
        var right = left.Under([.. Under(East, peaked).Records.Where(r => r.Fact is ProfilePublished)])!;

        var sides = SideBySide.Of(left, right, peaked.At);

        Assert.Equal(Under(North, peaked).Judge().Hash, sides.Left.Hash);
        var differs = sides.Findings.Where(f => f.Differs).Select(f => f.Either.Requirement).Distinct().ToList();
        Assert.Contains("strip.curing", differs);
        Assert.Contains("place.discharge", differs);
        Assert.Contains("ship.minimum-age", differs);
        // What neither agency has a rule of its own for comes out the same.
        Assert.DoesNotContain(differs, d => d.StartsWith("tying.", StringComparison.Ordinal) || d is "close-up.spacing" or "close-up.laps" or "place.batch-weights" or "pour.dimensions");
        Assert.True(sides.Findings.Single(f => f.Either is { Requirement: "strip.curing" } e && e.Subject.EndsWith("peak", StringComparison.Ordinal)).LimitDiffers);
        Assert.Null(left.Under([]));
    }

    [Fact]
    public void A_limit_is_confirmed_by_a_person_against_a_page_and_publishing_again_touches_nothing_until_adopted()
    {
        var profile = Good.The<ProfilePublished>();
        var published = Good.RecordOf<ProfilePublished>().OccurredAt.At;
        Assert.All(Good.Findings("place.temperature"), f => Assert.False(f.LimitConfirmed));

        var confirmed = new[] { "fresh.temperature.min", "fresh.temperature.max" }.Aggregate(Good, (unit, key) =>
            unit.Add(new ProfileConfirmed(profile.Profile, profile.Version, key, "ACI 306R", "12", new DateOnly(2026, 2, 1)), published.AddHours(1)));
        Assert.All(confirmed.Findings("place.temperature"), f => Assert.True(f.LimitConfirmed));
        Assert.All(Good.Add(new ProfileConfirmed(profile.Profile, profile.Version + 1, "fresh.temperature.min", "ACI 306R", "12", new DateOnly(2026, 2, 1)), published.AddHours(1)).Findings("place.temperature"),
            f => Assert.False(f.LimitConfirmed));

        var again = confirmed.Add(profile with { Version = profile.Version + 1, Limits = [.. profile.Limits.Select(l => l.Key == "fresh.temperature.max" ? l with { Value = R("60") } : l)] }, published.AddDays(1));
        Assert.Equal(confirmed.Judge().Hash, again.Judge().Hash);
        var adopted = again.Add(new ProfileAdopted(Good.The<ContractOpened>().Contract, profile.Profile, profile.Version + 1, "letter of the agency"), published.AddDays(2));
        Assert.Equal(NotMet, adopted.Findings("place.temperature")[0].Verdict);
        Assert.False(adopted.Findings("place.temperature")[0].LimitConfirmed);
    }
}
