using System.Globalization;
using CsCheck;
using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using Traceability.PlantSimulator.Story;

namespace Traceability.Core.Tests.Concrete;

public sealed class SteelTests
{
    private static decimal D(string text) => decimal.Parse(text, CultureInfo.InvariantCulture);

    [Theory]
    [InlineData(3, 10, "9.5", 71, "0.560", "1.178")]
    [InlineData(4, 13, "12.7", 129, "0.994", "1.571")]
    [InlineData(5, 16, "15.9", 199, "1.552", "1.963")]
    [InlineData(6, 19, "19.1", 284, "2.235", "2.356")]
    [InlineData(7, 22, "22.2", 387, "3.042", "2.749")]
    [InlineData(8, 25, "25.4", 510, "3.973", "3.142")]
    [InlineData(9, 29, "28.7", 645, "5.060", "3.544")]
    [InlineData(10, 32, "32.3", 819, "6.404", "3.990")]
    [InlineData(11, 36, "35.8", 1006, "7.907", "4.430")]
    [InlineData(14, 43, "43.0", 1452, "11.380", "5.32")]
    [InlineData(18, 57, "57.3", 2581, "20.240", "7.09")]
    [OutsideCheck("Soft-metric mark, diameter, area and mass in SI and perimeter of bars Nos. 3 to 18", "the printed table, e.g. No. 5: 16, 15.9 mm, 199 mm2, 1.552 kg/m, 1.963 in", "PCI Design Handbook, 7th edition, Design Aid 15.4.1", SourceMark.Published)]
    public void The_printed_table_has_its_own_figures_in_si(int number, int mark, string mm, int mm2, string kgPerM, string perimeter)
    {
        var bar = Bars.Nominal($"#{number}")!;
        Assert.Equal((mark, D(mm), (decimal)mm2, D(kgPerM), D(perimeter)), (bar.SiMark, bar.DiameterMm, bar.AreaMm2, bar.MassKgPerM, bar.PerimeterIn));
    }

    [Fact]
    [OutsideCheck("Mass of 36 bars No. 5, 11 ft 6 in long, in SI", "195.9 kg", "PCI Design Handbook, 7th edition, Design Aid 15.4.1; pound by NIST SP 811", SourceMark.Published, Tolerance = "0.05 kg")]
    [OutsideCheck("Steel of No. 5 bars at 6 in, in SI", "1,312 mm2/m", "PCI Design Handbook, 7th edition, Design Aid 15.4.1; inch by NIST SP 811", SourceMark.Published, Tolerance = "0.5 mm2/m")]
    public void Weight_and_steel_in_si_follow_from_the_defined_units()
    {
        var bar = Bars.Nominal("#5")!;
        Assert.Equal(195.9m, decimal.Round(Bars.WeightLb(bar, 36, 11.5m) * Si.KgPerLb, 1));
        Assert.Equal(1312m, decimal.Round(Bars.AreaIn2PerFt(bar.AreaIn2, 6) * Si.MmPerIn * Si.MmPerIn / Si.MPerFt));
    }

    [Fact]
    public void The_two_unit_systems_of_the_table_agree_within_their_rounding()
    {
        Assert.Equal(11, Bars.All.Count);
        foreach (var bar in Bars.All)
        {
            Assert.True(Math.Abs(bar.DiameterIn * Si.MmPerIn - bar.DiameterMm) <= 0.06m, $"#{bar.Number} diameter");
            Assert.True(Math.Abs(bar.WeightLbPerFt * Si.KgPerLb / Si.MPerFt - bar.MassKgPerM) <= 0.005m, $"#{bar.Number} mass");
            Assert.True(Math.Abs(bar.AreaIn2 * Si.MmPerIn * Si.MmPerIn - bar.AreaMm2) <= 1.1m, $"#{bar.Number} area");
            Assert.True(Math.Abs(bar.DiameterIn * Exact.Pi - bar.PerimeterIn) <= 0.0016m, $"#{bar.Number} perimeter");
        }
    }

    [Fact]
    [OutsideCheck("Welded wire 3 x 8 W10 x D4: steel of the W10 wires and of the D4 wires", "0.40 and 0.06 in2/ft", "ASTM A1064/A1064M, wire number / 100 = area", SourceMark.Memory)]
    [OutsideCheck("Weight of a W10 wire", "0.34 lb/ft", "ASTM A1064/A1064M, 3.4 lb/ft for each square inch", SourceMark.Memory)]
    public void A_style_of_welded_wire_reads_as_it_is_written()
    {
        var wire = WeldedWire.Parse("3 x 8 W10 x D4")!;
        Assert.Equal((0.40m, 0.06m), (wire.LongitudinalIn2PerFt, wire.TransverseIn2PerFt));
        Assert.Equal(0.34m, wire.Longitudinal.WeightLbPerFt);
        Assert.Equal((false, true), (wire.Longitudinal.Deformed, wire.Transverse.Deformed));
        Assert.Equal(3.4m * 0.46m, wire.WeightLbPerFt2);
        Assert.Equal(wire, WeldedWire.Parse("3X8-W10".Replace("-", "", StringComparison.Ordinal) + "xD4"));
    }

    [Fact]
    [OutsideCheck("Weld of W10 to D4 (40 % of the larger area) and of W10 to W3.9", "3,500 lb at least; none asked", "ASTM A1064/A1064M, 35,000 psi times the larger area", SourceMark.Memory)]
    public void Weld_shear_is_asked_from_forty_percent_of_the_larger_wire()
    {
        Assert.Equal(3500m, WeldedWire.Parse("3x8W10xD4")!.WeldShearLbf);
        Assert.Equal(3500m, WeldedWire.Parse("8x3D4xW10")!.WeldShearLbf);
        Assert.Null(WeldedWire.Parse("3x8W10xW3.9")!.WeldShearLbf);
    }

    [Theory]
    [InlineData("W10", 65000, 75000)]
    [InlineData("W1.2", 65000, 75000)]
    [InlineData("W1.1", 56000, 70000)]
    [InlineData("D4", 70000, 80000)]
    [OutsideCheck("Least yield and tensile strength of welded wire: plain, plain below W1.2, deformed", "65/75, 56/70, 70/80 ksi", "ASTM A1064/A1064M", SourceMark.Memory)]
    public void Wire_strengths_go_by_kind_and_size(string size, int yield, int tensile)
    {
        var wire = Wire.Parse(size)!;
        Assert.Equal(((decimal)yield, (decimal)tensile), (wire.LeastYieldPsi, wire.LeastTensilePsi));
    }

    [Fact]
    public void The_diameter_of_a_wire_is_that_of_its_area() => Assert.Equal(0.3568m, decimal.Round(Wire.Parse("W10")!.DiameterIn, 4));

    [Theory]
    [InlineData("")]
    [InlineData("#5")]
    [InlineData("W")]
    [InlineData("W0")]
    [InlineData("Wx")]
    public void What_is_no_wire_is_none(string size) => Assert.Null(Wire.Parse(size));

    [Theory]
    [InlineData("3 x 8")]
    [InlineData("3 W10 x D4")]
    [InlineData("3 x 8 W10")]
    [InlineData("0 x 8 W10 x D4")]
    [InlineData("3 x 8 W10 x #5")]
    public void What_is_no_style_is_none(string style) => Assert.Null(WeldedWire.Parse(style));

    [Fact]
    [OutsideCheck("Effective depth and cover: d 7.5 in, cover 1.5; d 9, cover 1.0; d 9, cover 2.0 in", "+-3/8, +-1/2 in; least cover 1.125, 0.667, 1.5 in", "ACI 318-19, Table 26.6.2.1", SourceMark.Memory, Tolerance = "0.0005 in")]
    [OutsideCheck("Cover 1.5 in at a formed soffit, d 8.1875 in", "least 1.25 in", "ACI 318-19, 26.6.2.1", SourceMark.Memory)]
    public void Aci_318_goes_by_effective_depth()
    {
        Assert.Equal((0.375m, 1.125m), (Placing.Aci318(7.5m).PositionIn, Placing.Aci318(7.5m).LeastCover(1.5m)));
        Assert.Equal((0.5m, 0.667m), (Placing.Aci318(9).PositionIn, decimal.Round(Placing.Aci318(9).LeastCover(1.0m), 3)));
        Assert.Equal(1.5m, Placing.Aci318(9).LeastCover(2.0m));
        Assert.Equal(1.25m, Placing.Aci318(8.1875m, formedSoffit: true).LeastCover(1.5m));
        Assert.Equal((0.375m, 0.5m), (Placing.Aci318(8).PositionIn, Placing.Aci318(8.0001m).PositionIn));
    }

    [Theory]
    [InlineData(4, "0.25", "0.375")]
    [InlineData(4.001, "0.375", "0.375")]
    [InlineData(12, "0.375", "0.375")]
    [InlineData(12.001, "0.5", "0.5")]
    [InlineData(24, "0.5", "0.5")]
    [InlineData(24.001, "1", "0.5")]
    [OutsideCheck("Clear distance of bars in members of 12 to 24 in", "+-1/2 in", "ACI 117, bar placing", SourceMark.Published)]
    [OutsideCheck("Cover of slabs up to 12 in", "-3/8 in", "ACI 117, bar placing", SourceMark.Published)]
    public void Aci_117_goes_by_the_size_of_the_member(double member, string position, string reduction)
    {
        var tolerance = Placing.Aci117((decimal)member);
        Assert.Equal((D(position), D(reduction)), (tolerance.PositionIn, tolerance.CoverReductionIn));
        Assert.Equal(0.25m, Placing.Aci117((decimal)member, formedSoffit: true).CoverReductionIn);
    }

    [Fact]
    [OutsideCheck("A 10 in wall with d = 8.2 in and cover 2.0 in under the two standards", "least 1.5 in by ACI 318, 1.625 in by ACI 117: they disagree", "ACI 318-19, Table 26.6.2.1, and ACI 117, bar placing", SourceMark.Memory)]
    public void The_two_general_standards_disagree_on_one_wall()
    {
        Assert.Equal(1.5m, Placing.Aci318(8.2m).LeastCover(2));
        Assert.Equal(1.625m, Placing.Aci117(10).LeastCover(2));
    }

    [Fact]
    [OutsideCheck("Position of steel in boxes of 5 in and of more", "+-3/8 and +-1/2 in, cover never under 5/8 in", "ASTM C1577, 11", SourceMark.Memory)]
    [OutsideCheck("Position of steel in pipe: walls of 4 and 6 in; least cover inside and outside", "+-1/2 and +-0.6 in; 1/4 and 1/2 in", "ASTM C76, 12", SourceMark.Memory)]
    public void Product_standards_go_by_thickness_and_have_a_floor()
    {
        Assert.Equal((0.375m, 0.5m), (Placing.Box(5).PositionIn, Placing.Box(5.01m).PositionIn));
        Assert.Equal(0.625m, Placing.Box(8).LeastCover(1));
        Assert.Equal(1.5m, Placing.Box(8).LeastCover(2));
        Assert.Equal((0.5m, 0.6m), (Placing.Pipe(4, inside: true).PositionIn, Placing.Pipe(6, inside: true).PositionIn));
        Assert.Equal((0.25m, 0.5m), (Placing.Pipe(4, inside: true).LeastCover(0.5m), Placing.Pipe(4, inside: false).LeastCover(0.75m)));
        Assert.Equal(0.5m, Placing.Manhole(5).LeastCover(1));
        Assert.Equal((0.5m, 0.625m), (Placing.ThreeSided.PositionIn, Placing.ThreeSided.LeastCover(1)));
        Assert.True(Placing.Box(8).Depth(6).Holds(6.5m));
        Assert.False(Placing.Box(8).Depth(6).Holds(5.49m));
    }

    [Theory]
    [InlineData("2.00", true)]
    [InlineData("1.99", false)]
    [InlineData("2.375", true)]
    [InlineData("2.40", false)]
    [OutsideCheck("The owner's cover of 2.0 in, +3/8 -0, as a band: 2.00, 1.99, 2.375, 2.40 in", "in, out, in, out", "Virginia Department of Transportation, box-culvert solicitation", SourceMark.Published)]
    public void An_owners_band_replaces_the_standards_tolerance(string measured, bool inside) =>
        Assert.Equal(inside, Band.Around(2.0m, 0, 0.375m).Holds(D(measured)));

    [Theory]
    [InlineData(CoverSituation.DirectSaltWater, 5, "4.0", 100)]
    [InlineData(CoverSituation.CastAgainstEarth, 5, "3.0", 75)]
    [InlineData(CoverSituation.Coastal, 5, "3.0", 75)]
    [InlineData(CoverSituation.DeicingSalts, 5, "2.5", 65)]
    [InlineData(CoverSituation.DeckWithStudOrChainWear, 5, "2.5", 65)]
    [InlineData(CoverSituation.Exterior, 5, "2.0", 50)]
    [InlineData(CoverSituation.Interior, 11, "1.5", 40)]
    [InlineData(CoverSituation.Interior, 14, "2.0", 50)]
    [InlineData(CoverSituation.BoxTopSlabRidingSurface, 5, "2.5", 65)]
    [InlineData(CoverSituation.BoxTopSlabShallowFill, 5, "2.0", 50)]
    [InlineData(CoverSituation.BoxOther, 5, "1.0", 25)]
    [InlineData(CoverSituation.PrecastPileNonCorrosive, 5, "2.0", 50)]
    [InlineData(CoverSituation.PrecastPileCorrosive, 5, "3.0", 75)]
    [OutsideCheck("Cover of main bars by situation, e.g. deicing salts; top slab of a box under less than 2 ft of fill", "2.5 in (65 mm); 2.0 in (50 mm)", "AASHTO LRFD Bridge Design Specifications, 8th/9th edition, Table 5.10.1-1", SourceMark.Memory)]
    public void Cover_of_bridges_is_by_situation(CoverSituation situation, int bar, string inches, int mm)
    {
        Assert.Equal(D(inches), BridgeCover.TableIn(situation, bar));
        Assert.Equal(mm, BridgeCover.TableMm(situation, bar));
    }

    [Theory]
    [InlineData("0.40", "2.0")]
    [InlineData("0.41", "2.5")]
    [InlineData("0.49", "2.5")]
    [InlineData("0.50", "3.0")]
    [OutsideCheck("Cover of 2.5 in by the water-cement ratio: 0.40, between, 0.50", "2.0, 2.5, 3.0 in", "AASHTO LRFD Bridge Design Specifications, 8th/9th edition, 5.10.1", SourceMark.Memory)]
    public void Cover_of_bridges_is_modified_by_the_water_cement_ratio(string ratio, string inches) =>
        Assert.Equal(D(inches), BridgeCover.In(CoverSituation.DeicingSalts, 5, D(ratio)));

    [Fact]
    public void Modified_cover_is_never_below_an_inch_and_ties_may_have_half_an_inch_less()
    {
        Assert.Equal(1m, BridgeCover.In(CoverSituation.BoxOther, 5, 0.35m));
        Assert.Equal(2m, BridgeCover.In(CoverSituation.DeicingSalts, 4, 0.45m, tie: true));
        Assert.Throws<ArgumentOutOfRangeException>(() => BridgeCover.TableIn((CoverSituation)99, 5));
    }

    [Theory]
    [InlineData(2018, 90000, null)]
    [InlineData(2019, 90000, null)]
    [InlineData(2020, 80000, "1.10")]
    [InlineData(2022, 80000, "1.10")]
    [OutsideCheck("Tensile strength and ratio of A615 Grade 60 by edition", "90 ksi and none through A615-18; 80 ksi and 1.10 from A615-20", "ASTM A615/A615M, Grade 60", SourceMark.Memory)]
    public void The_edition_decides_the_tensile_strength_and_the_ratio(int edition, int tensile, string? ratio)
    {
        var test = Mill.A615(edition);
        Assert.Equal((60_000m, (decimal)tensile, ratio is null ? null : D(ratio), null), (test.YieldPsi, test.TensilePsi, test.Ratio, test.LargestYieldPsi));
    }

    [Theory]
    [InlineData(61000, 85000, false, true, true)]
    [InlineData(61000, 90000, true, true, true)]
    [InlineData(79000, 99000, true, true, false)]
    [InlineData(70000, 87500, false, true, true)]
    [InlineData(70000, 87400, false, true, false)]
    [InlineData(82000, 90000, true, false, false)]
    [InlineData(59900, 90000, false, false, false)]
    [OutsideCheck("Yield and largest yield of A706 Grade 60, tensile to yield", "60 to 78 ksi, at least 80 ksi and 1.25 times the actual yield", "ASTM A706/A706M, Grade 60", SourceMark.Memory)]
    public void One_bar_passes_one_specification_and_not_another(int yield, int tensile, bool before2020, bool from2020, bool a706) =>
        Assert.Equal((before2020, from2020, a706), (Mill.A615(2018).Strengths(yield, tensile), Mill.A615(2020).Strengths(yield, tensile), Mill.A706.Strengths(yield, tensile)));

    [Theory]
    [InlineData(3, 9, 14)]
    [InlineData(6, 9, 14)]
    [InlineData(7, 8, 12)]
    [InlineData(8, 8, 12)]
    [InlineData(9, 7, 12)]
    [InlineData(11, 7, 12)]
    [InlineData(14, 7, 10)]
    [InlineData(18, 7, 10)]
    [OutsideCheck("Least elongation in 8 in of A706 Grade 60 by size", "14 % Nos. 3-6, 12 % Nos. 7-11, 10 % Nos. 14 and 18", "ASTM A706/A706M, Grade 60", SourceMark.Memory)]
    public void Elongation_goes_by_size(int bar, int a615, int a706) => Assert.Equal((a615, a706), (Mill.A615(2020).ElongationPct(bar), Mill.A706.ElongationPct(bar)));

    [Fact]
    public void A_size_no_specification_has_has_no_elongation() => Assert.Null(Mill.A706.ElongationPct(12));

    [Fact]
    [OutsideCheck("Carbon equivalent of 0.28 C, 1.20 Mn, 0.30 Cu, 0.10 Ni, 0.15 Cr, 0.02 Mo, 0.03 V", "0.5041 %, under 0.55 %", "ASTM A706/A706M, C + Mn/6 + Cu/40 + Ni/20 + Cr/10 - Mo/50 - V/10", SourceMark.Memory, Tolerance = "0.00005 %")]
    public void Carbon_equivalent_adds_up()
    {
        var equivalent = Mill.CarbonEquivalentPct(0.28m, 1.20m, 0.30m, 0.10m, 0.15m, 0.02m, 0.03m);
        Assert.Equal(0.5041m, decimal.Round(equivalent, 4));
        Assert.True(equivalent <= Mill.LargestCarbonEquivalentPct);
    }

    [Fact]
    [OutsideCheck("Ten feet of No. 5 at 9.80 and 9.81 lb", "93.96 % out, 94.06 % in", "ASTM A615/A615M, 12: at least 94 % of the nominal weight", SourceMark.Memory, Tolerance = "0.005 %")]
    public void A_light_bar_is_told_by_its_share_of_the_nominal_weight()
    {
        var bar = Bars.Nominal("#5")!;
        Assert.Equal((93.96m, 94.06m), (decimal.Round(Mill.WeightPct(bar, 9.80m, 10), 2), decimal.Round(Mill.WeightPct(bar, 9.81m, 10), 2)));
        Assert.False(Mill.WeightPct(bar, 9.80m, 10) >= Mill.LeastWeightPct);
    }

    [Theory]
    [InlineData(1_800_000, 2_500)]
    [InlineData(9_400_000, 9_400)]
    [InlineData(2_500_000, 2_500)]
    [OutsideCheck("Minimal foreign steel of contracts of $1,800,000 and $9,400,000", "$2,500 and $9,400", "23 CFR 635.410(b)(4)", SourceMark.Memory)]
    public void Minimal_foreign_steel_is_the_greater_of_a_share_and_a_sum(int contract, int allowed) => Assert.Equal(allowed, BuyAmerica.MinimalForeignUsd(contract));

    [Theory]
    [InlineData("2025-09-30", ManufacturedProductRule.GeneralWaiver)]
    [InlineData("2025-10-01", ManufacturedProductRule.FinalAssembly)]
    [InlineData("2026-09-30", ManufacturedProductRule.FinalAssembly)]
    [InlineData("2026-10-01", ManufacturedProductRule.FinalAssemblyAndCost)]
    [OutsideCheck("Projects obligated on 2025-09-30, 2025-10-01, 2026-09-30, 2026-10-01", "general waiver; final assembly; final assembly; final assembly and more than 55 %", "90 FR 2932-2958, 14 January 2025", SourceMark.Published)]
    public void The_obligation_date_decides_what_is_asked_of_manufactured_products(string day, ManufacturedProductRule rule) =>
        Assert.Equal(rule, BuyAmerica.RuleOn(DateOnly.Parse(day, CultureInfo.InvariantCulture)));

    [Fact]
    [OutsideCheck("Domestic components of 55 % and of 55.01 % of the cost", "not enough, enough", "90 FR 2932-2958: more than 55 %", SourceMark.Published)]
    [OutsideCheck("Iron and steel of 50 % and of 50.01 % of the cost of components", "not predominantly, predominantly", "2 CFR 184.3", SourceMark.Published)]
    public void More_than_a_share_is_more()
    {
        Assert.False(BuyAmerica.CostShareMet(5500, 10000));
        Assert.True(BuyAmerica.CostShareMet(5501, 10000));
        Assert.False(BuyAmerica.PredominantlySteel(5000, 10000));
        Assert.True(BuyAmerica.PredominantlySteel(5001, 10000));
    }

    private static readonly ScheduleTolerance Allowed = new(1, 3);

    private static readonly ScheduleLine[] Drawn = [new("A1", "#5", 36, 138, 6), new("B1", "#4", 20, 72), new("C1", "#4", 8)];

    private static readonly ScheduleLine[] Cage = [new("A1", "#5", 20, 138, 6, ["A50932"]), new("A1", "#5", 16, 138.5m, 6.5m, ["A50940"]), new("B1", "#4", 20, 72, null, ["B1177"]), new("C1", "#4", 8, null, null, ["B1177"])];

    [Fact]
    public void A_cage_as_scheduled_has_no_difference() => Assert.Empty(Schedule.Differences(Drawn, Cage, Allowed));

    [Fact]
    public void Every_difference_is_named_by_its_mark()
    {
        ScheduleLine[] cage = [new("A1", "#6", 35, 139.01m, 9.01m, []), new("B1", "#4", 20, null, null, ["B1177"]), new("X1", "#3", 4, null, null, ["Q1"])];
        var found = Schedule.Differences(Drawn, cage, Allowed);
        Assert.Equal(
        [
            ("A1", ScheduleMatter.Size, "#5", "#6"), ("A1", ScheduleMatter.Count, "36", "35"), ("A1", ScheduleMatter.Length, "138 in", "139.01 in"), ("A1", ScheduleMatter.Spacing, "6 in", "9.01 in"),
            ("A1", ScheduleMatter.NoHeat, "a heat for every bar", "none named"), ("B1", ScheduleMatter.NotStated, "72 in", ""), ("C1", ScheduleMatter.NotTied, "8 #4", ""), ("X1", ScheduleMatter.NotScheduled, "", "4 #3"),
        ], found.Select(d => (d.Mark, d.Matter, d.Scheduled, d.Tied)));
    }

    [Theory]
    [InlineData(139, true)]
    [InlineData(139.0001, false)]
    [InlineData(137, true)]
    [InlineData(136.9999, false)]
    [OutsideCheck("Length of straight bars of 138 in", "137 to 139 in", "ACI 117 and CRSI, bar fabrication, +-1 in", SourceMark.Memory)]
    public void Length_turns_exactly_at_its_tolerance(double length, bool asScheduled) =>
        Assert.Equal(asScheduled, Schedule.Differences([Drawn[0]], [new("A1", "#5", 36, (decimal)length, 6, ["A50932"])], Allowed).Count == 0);

    [Fact]
    public void Taking_a_line_out_of_the_cage_never_fixes_it() =>
        Gen.Int[0, Cage.Length - 1].Sample(i => Schedule.Differences(Drawn, [.. Cage.Where((_, at) => at != i)], Allowed).Count > 0);

    [Fact]
    public void Least_cover_grows_with_the_specified_cover() =>
        Gen.Select(Gen.Decimal[0.5m, 4m], Gen.Decimal[0m, 2m], Gen.Decimal[2m, 30m]).Sample((cover, more, size) =>
            Placing.Aci318(size).LeastCover(cover + more) >= Placing.Aci318(size).LeastCover(cover)
            && Placing.Aci117(size).LeastCover(cover + more) >= Placing.Aci117(size).LeastCover(cover)
            && Placing.Box(size).LeastCover(cover + more) >= Placing.Box(size).LeastCover(cover));

    [Fact]
    public void The_baseline_profile_asks_the_mill_values_of_the_tables()
    {
        var limits = ProfileFile.Baseline().Limits.ToDictionary(l => l.Key, l => l.Value.Value);
        foreach (var (name, test) in new[] { ("steel.a615-60", Mill.A615(2020)), ("steel.a706-60", Mill.A706) })
        {
            Assert.Equal((test.YieldPsi, test.TensilePsi, test.Ratio, test.LargestYieldPsi),
                (limits[name + ".yield-min"], limits[name + ".tensile-min"], limits[name + ".ratio-min"], limits.TryGetValue(name + ".yield-max", out var most) ? most : null));
        }

        Assert.Equal(Placing.Aci318(8).CoverReductionIn, limits["cover.reduction.shallow"]);
        Assert.Equal(Placing.Aci318(9).CoverReductionIn, limits["cover.reduction.deep"]);
        Assert.Equal(Placing.Aci318(9, formedSoffit: true).CoverReductionIn, limits["cover.reduction.soffit"]);
    }
}
