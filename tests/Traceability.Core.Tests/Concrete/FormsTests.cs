using System.Globalization;
using CsCheck;
using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Tests.Concrete;

public sealed class FormsTests
{
    private static decimal D(string text) => decimal.Parse(text, CultureInfo.InvariantCulture);

    [Theory]
    [InlineData(FormMember.Wall, 10, 5, 70, 150, "1.2", "951.4")]
    [InlineData(FormMember.Wall, 16, 5, 70, 150, "1.2", "1164.0")]
    [InlineData(FormMember.Wall, 10, 10, 70, 150, "1.0", "1170.0")]
    [InlineData(FormMember.Column, 12, 10, 60, 150, "1.0", "1650.0")]
    [InlineData(FormMember.Wall, 3, 5, 70, 150, "1.0", "450.0")]
    [InlineData(FormMember.Wall, 10, 3, 80, 115, "1.0", "537.9")]
    [OutsideCheck("150 lb/ft3, 70 F, 5 ft/h, chemistry 1.2: wall 10 ft and 16 ft high", "951.4 and 1,164.0 psf", "ACI 347R-14, walls, both formulas", SourceMark.Memory, Tolerance = "0.05 psf")]
    [OutsideCheck("Wall 10 ft at 10 ft/h, chemistry 1.0", "1,170.0 psf", "ACI 347R-14, walls from 7 to 15 ft/h", SourceMark.Memory, Tolerance = "0.05 psf")]
    [OutsideCheck("Column 12 ft at 10 ft/h and 60 F", "1,650.0 psf", "ACI 347R-14, columns", SourceMark.Memory, Tolerance = "0.05 psf")]
    [OutsideCheck("Wall of 3 ft at 5 ft/h", "450.0 psf: the full head governs", "ACI 347R-14, at most w h", SourceMark.Memory)]
    [OutsideCheck("Lightweight concrete of 115 lb/ft3, wall 10 ft at 3 ft/h, 80 F", "537.9 psf: the least pressure governs", "ACI 347R-14, at least 600 times the unit weight coefficient", SourceMark.Memory, Tolerance = "0.05 psf")]
    public void Pressure_by_every_branch(FormMember member, int height, int rate, int temperature, int weight, string chemistry, string psf) =>
        Assert.Equal(D(psf), decimal.Round(FormPressure.Psf(member, height, rate, temperature, weight, D(chemistry)), 1));

    [Fact]
    [OutsideCheck("Self-consolidating concrete, 10 ft", "1,500 psf, 71.8 kPa", "ACI 347-04 as explained in two notes of 2006 and 2007: full head", SourceMark.Published, Tolerance = "0.05 kPa")]
    [OutsideCheck("951.4 psf in SI", "45.6 kPa", "NIST Special Publication 811, 2008, appendix B.8", SourceMark.Memory, Tolerance = "0.05 kPa")]
    public void Full_head_in_both_units()
    {
        var psf = FormPressure.FullHeadPsf(150, 10);
        Assert.Equal((1500m, 71.8m), (psf, decimal.Round(psf * Si.KpaPerPsf, 1)));
        Assert.Equal(45.6m, decimal.Round(FormPressure.Psf(FormMember.Wall, 10, 5, 70, 150, 1.2m) * Si.KpaPerPsf, 1));
        Assert.Equal(71.8m, decimal.Round(FormPressure.FullHeadKpa(150 * Si.KgM3PerLbFt3, 3.048m), 1));
    }

    [Theory]
    [InlineData("14", "6.99", "1048.7")]
    [InlineData("14.01", "6.99", "1049.6")]
    [InlineData("14", "7", "1050.0")]
    [InlineData("14", "15", "1370.0")]
    [InlineData("14", "15.01", "2100.0")]
    [OutsideCheck("Walls: where the formulas part", "14 ft, 7 ft/h and 15 ft/h; above, full head", "ACI 347-04 as explained in two notes of 2006 and 2007", SourceMark.Published)]
    public void The_formulas_part_where_they_are_printed_to(string height, string rate, string psf) =>
        Assert.Equal(D(psf), decimal.Round(FormPressure.Psf(FormMember.Wall, D(height), D(rate), 70, 150, 1), 1));

    [Theory]
    [InlineData("115", "0.8966")]
    [InlineData("80", "0.80")]
    [InlineData("139", "0.9793")]
    [InlineData("140", "1")]
    [InlineData("150", "1")]
    [InlineData("151", "1.0414")]
    [OutsideCheck("Unit weight coefficient at 80, 115, 140 to 150 and 151 lb/ft3", "0.80, 0.8966, 1, 1.0414", "ACI 347R-14, unit weight coefficient", SourceMark.Memory, Tolerance = "0.00005")]
    public void The_unit_weight_coefficient_has_three_branches(string weight, string coefficient) => Assert.Equal(D(coefficient), decimal.Round(FormPressure.UnitWeightCoefficient(D(weight)), 4));

    [Theory]
    [InlineData(Blend.None, false, "1.0")]
    [InlineData(Blend.None, true, "1.2")]
    [InlineData(Blend.Ordinary, false, "1.2")]
    [InlineData(Blend.Ordinary, true, "1.4")]
    [InlineData(Blend.High, false, "1.4")]
    [OutsideCheck("Chemistry coefficient: plain, set delayed, blend below 70 % slag or 40 % fly ash, both, more", "1.0, 1.2, 1.2, 1.4, 1.4", "ACI 347R-14, chemistry coefficient", SourceMark.Memory)]
    public void The_chemistry_coefficient_goes_by_blend_and_set(Blend blend, bool delayed, string coefficient) => Assert.Equal(D(coefficient), FormPressure.Chemistry(blend, delayed));

    // The SI edition rounds its limits (4.2 m, 2.1 and 4.5 m/h, 30 kPa): away from the joints the two systems agree.
    [Fact]
    public void The_two_unit_systems_agree_away_from_their_joints() =>
        Gen.Select(Gen.Decimal[3m, 13m], Gen.Decimal[0.5m, 14m], Gen.Decimal[40m, 95m], Gen.Bool, Gen.Int[0, 2].Select(i => 1.0m + 0.2m * i)).Where(g => Math.Abs(g.Item2 - 7) > 0.3m)
            .Sample((height, rate, temperature, column, chemistry) =>
            {
                var member = column ? FormMember.Column : FormMember.Wall;
                var psf = FormPressure.Psf(member, height, rate, temperature, 145, chemistry) * Si.KpaPerPsf;
                var kpa = FormPressure.Kpa(member, height * Si.MPerFt, rate * Si.MPerFt, Si.Celsius(temperature), 145 * Si.KgM3PerLbFt3, chemistry);
                return Math.Abs(psf / kpa - 1) < 0.05m;
            });

    [Fact]
    public void Pressure_grows_with_height_and_rate_and_falls_with_temperature() =>
        Gen.Select(Gen.Decimal[1m, 20m], Gen.Decimal[0m, 14m], Gen.Decimal[40m, 95m], Gen.Enum<FormMember>()).Sample((height, rate, temperature, member) =>
        {
            var here = FormPressure.Psf(member, height, rate, temperature, 150, 1.2m);
            return here <= FormPressure.FullHeadPsf(150, height) && FormPressure.Psf(member, height, rate, temperature + 1, 150, 1.2m) <= here
                && (height is > 13 and <= 14 || FormPressure.Psf(member, height + 1, rate, temperature, 150, 1.2m) >= here)
                && (rate is > 6.9m and < 7 || FormPressure.Psf(member, height, rate + 0.1m, temperature, 150, 1.2m) >= here);
        });

    [Fact]
    public void Heights_rates_and_temperatures_that_cannot_be_are_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => FormPressure.Psf(FormMember.Wall, 10, 5, 0, 150, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => FormPressure.Psf(FormMember.Wall, -1, 5, 70, 150, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => FormPressure.Psf(FormMember.Wall, 10, -5, 70, 150, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => FormPressure.Kpa(FormMember.Wall, 3, 1, -17.8m, 2400, 1));
        Assert.Equal(FormPressure.FullHeadKpa(2400, 3), FormPressure.Kpa(FormMember.Wall, 3, 4.6m, 20, 2400, 1));
    }

    [Theory]
    [InlineData(2239, "0.9825")]
    [InlineData(2240, "1")]
    [InlineData(2401, "1.0349")]
    [InlineData(1000, "0.80")]
    public void The_unit_weight_coefficient_in_si_has_the_same_branches(int kgM3, string coefficient) => Assert.Equal(D(coefficient), decimal.Round(FormPressure.UnitWeightCoefficientSi(kgM3), 4));

    [Fact]
    [OutsideCheck("Box of 12 x 8 ft, walls and slabs 10 in, haunches 10 x 10 in, 6 ft long", "37.50 ft2, 225.0 ft3, 33,750 lb, 16.875 tons, 15.309 t", "geometry at 150 lb/ft3", SourceMark.CommonPractice, Tolerance = "0.005 ft2, 0.0005 t")]
    public void Weight_follows_from_volume()
    {
        var area = PieceWeight.BoxAreaFt2(12, 8, 10, 10, 10, 10);
        Assert.Equal(37.50m, decimal.Round(area, 10));
        var weight = decimal.Round(PieceWeight.Lb(area * 6), 10);
        Assert.Equal((33_750m, 16.875m, 15.309m), (weight, weight / PieceWeight.LbPerTon, decimal.Round(weight * Si.KgPerLb / PieceWeight.KgPerTonne, 3)));
    }

    [Theory]
    [InlineData(5000, 150)]
    [InlineData(6000, 151)]
    [InlineData(15000, 160)]
    [OutsideCheck("Reinforced unit weight at 5,000, 6,000 and 15,000 psi", "150, 151, 160 lb/ft3", "AASHTO LRFD, Table 3.5.1-1", SourceMark.Memory)]
    public void Stronger_concrete_is_heavier(int strength, int weight)
    {
        Assert.Equal(weight, PieceWeight.ReinforcedLbFt3(strength));
        Assert.Throws<ArgumentOutOfRangeException>(() => PieceWeight.ReinforcedLbFt3(15_001));
    }

    [Fact]
    [OutsideCheck("Shop's unit weight of 150 lb/ft3 in SI", "2,403 kg/m3", "NIST Special Publication 811, 2008, appendix B.8", SourceMark.Memory, Tolerance = "0.5 kg/m3")]
    public void The_shops_unit_weight_in_si() => Assert.Equal(2403m, decimal.Round(PieceWeight.ShopLbFt3 * Si.KgM3PerLbFt3));

    [Theory]
    [InlineData(4, "38971", "48714", "19486")]
    [InlineData(2, "77942", "97428", "38971")]
    [OutsideCheck("33,750 lb on 4 legs at 60 degrees, and on 2 that carry: hardware at five times", "48,714 lb and 97,428 lb", "29 CFR 1926.704(d)", SourceMark.Published, Tolerance = "0.5 lb")]
    [OutsideCheck("The same: inserts of a tilt-up member at twice the load", "19,486 lb and 38,971 lb", "29 CFR 1926.704(b)", SourceMark.Published, Tolerance = "0.5 lb")]
    public void Inserts_and_hardware_have_their_own_factors(int legs, string insert, string hardware, string tiltUp)
    {
        var leg = Lifting.LegLoadLb(33_750, legs, 60);
        Assert.Equal((D(insert), D(hardware), D(tiltUp)), (decimal.Round(Lifting.InsertLbf(leg)), decimal.Round(Lifting.HardwareLbf(leg)), decimal.Round(Lifting.InsertLbf(leg, tiltUp: true))));
    }

    [Fact]
    [OutsideCheck("Static multipliers: stripping from a smooth flat mould, ribbed, yard and erection, truck", "1.2 to 1.3, 1.4 to 1.6, 1.2, 1.5", "PCI Design Handbook, 7th edition, 8.3.1", SourceMark.Memory)]
    public void Every_step_of_handling_has_its_multiplier()
    {
        Assert.Equal((new Band(1.2m, 1.3m), new Band(1.4m, 1.6m), new Band(1.2m, 1.2m), new Band(1.5m, 1.5m)),
            (Handling.Multiplier(HandlingStep.StripSmoothFlat), Handling.Multiplier(HandlingStep.StripRibbed), Handling.Multiplier(HandlingStep.YardAndErection), Handling.Multiplier(HandlingStep.Truck)));
        Assert.Throws<ArgumentOutOfRangeException>(() => Handling.Multiplier((HandlingStep)9));
    }

    [Fact]
    [OutsideCheck("Tension without cracking at a strength of 3,600 psi", "300 psi, 5 roots", "PCI Design Handbook, 7.5 roots over 1.5", SourceMark.Memory)]
    public void Stripping_strength_and_tension_are_each_others_inverse()
    {
        Assert.Equal(300m, decimal.Round(Handling.TensionPsi(3600), 15));
        Assert.Equal(3600m, Handling.StrengthPsi(300));
        Gen.Decimal[100m, 10_000m].Sample(psi => Math.Abs(Handling.StrengthPsi(Handling.TensionPsi(psi)) - psi) < 1e-15m);
        Assert.Throws<ArgumentOutOfRangeException>(() => Handling.StrengthPsi(-1));
    }

    private static readonly FlexuralSection Strip = new(12, 10, 0.62m, 0.625m, 60, 5, Flexure.PhiTension);

    [Theory]
    [InlineData("1.50", "8.1875", "24.251", "21.83", "0.912", "0.0239", "1.000")]
    [InlineData("2.00", "7.6875", null, "20.43", null, null, "0.936")]
    [InlineData("2.25", "7.4375", null, "19.73", null, null, "0.904")]
    [InlineData("1.125", "8.5625", null, "22.87", null, null, "1.048")]
    [OutsideCheck("Strip of 12 in, 10 in high, No. 5 at 6 in, 60 ksi, 5 ksi, cover 1.50 in", "d 8.1875, a 0.7294, c 0.912 in, Mn 24.251, design 21.83 kip-ft, strain 0.0239", "ACI 318-19, 22.2 and 22.3", SourceMark.Memory, Tolerance = "last digit")]
    [OutsideCheck("The same at 2.00, 2.25 and 1.125 in of cover", "20.43 (0.936), 19.73 (0.904), 22.87 kip-ft", "ACI 318-19, 22.2 and 22.3", SourceMark.Memory, Tolerance = "last digit")]
    public void Strength_goes_down_as_the_steel_goes_deeper(string cover, string depth, string? nominal, string design, string? axis, string? strain, string ratio)
    {
        var consequence = Flexure.Of(Strip, 1.50m, D(cover));
        var measured = consequence.Measured;
        Assert.Equal((D(depth), 0.7294m, D(design)), (measured.DepthIn, decimal.Round(measured.BlockIn, 4), decimal.Round(measured.DesignKipFt, 2)));
        if (nominal is not null) Assert.Equal(D(nominal), decimal.Round(measured.NominalKipFt, 3));
        if (axis is not null) Assert.Equal(D(axis), decimal.Round(measured.NeutralAxisIn, 3));
        if (strain is not null) Assert.Equal(D(strain), decimal.Round(measured.SteelStrain, 4));
        Assert.Equal(D(ratio), decimal.Round(consequence.Ratio, 3));
    }

    [Fact]
    [OutsideCheck("21.83 kip-ft in a foot, in SI", "97.1 kN m/m", "NIST Special Publication 811, 2008, appendix B.8", SourceMark.Memory, Tolerance = "0.05 kN m/m")]
    public void Moment_in_si_is_the_same_moment() =>
        Assert.Equal(97.1m, decimal.Round(Flexure.At(Strip, 1.5m).DesignKipFt * 1000 * Si.NmPerFtLbf / Si.MPerFt / 1000, 1));

    [Theory]
    [InlineData("1.50", true, true)]
    [InlineData("2.00", false, true)]
    [InlineData("2.25", false, false)]
    [OutsideCheck("A moment of 20.5 kip-ft at covers of 1.50, 2.00 and 2.25 in", "enough; too little though inside the placing tolerance of 1/2 in; too little and outside", "ACI 318-19, 22.2 and Table 26.6.2.1", SourceMark.Memory)]
    public void A_cover_inside_its_tolerance_can_still_be_too_weak(string cover, bool enough, bool placed)
    {
        var strength = Flexure.At(Strip, D(cover));
        Assert.Equal((enough, placed), (strength.DesignKipFt >= 20.5m, Placing.Aci318(8.1875m).Depth(8.1875m).Holds(strength.DepthIn)));
    }

    [Fact]
    [OutsideCheck("Cover 1.125 in where 1.50 in is specified, d 8.1875 in", "inside the general limit (1.00 in), under the limit at a formed soffit (1.25 in), under an owner's -0", "ACI 318-19, 26.6.2.1; Virginia Department of Transportation, box-culvert solicitation", SourceMark.Memory)]
    public void One_cover_is_judged_three_ways()
    {
        Assert.True(1.125m >= Placing.Aci318(8.1875m).LeastCover(1.5m));
        Assert.False(1.125m >= Placing.Aci318(8.1875m, formedSoffit: true).LeastCover(1.5m));
        Assert.False(Band.Around(1.5m, 0, 0.375m).Holds(1.125m));
    }

    [Fact]
    public void The_consequence_is_said_in_words_and_decides_nothing()
    {
        Assert.Equal("Flexural strength 21.83 kip-ft at 1.5 in of cover, 20.43 kip-ft at 2 in: ratio 0.936. The steel lies deeper than drawn, which lowers the strength. The engineer of record decides.",
            Flexure.Of(Strip, 1.5m, 2m).Statement);
        Assert.Contains("lowers the durability", Flexure.Of(Strip, 1.5m, 1.125m).Statement, StringComparison.Ordinal);
        Assert.Contains("as drawn", Flexure.Of(Strip, 1.5m, 1.5m).Statement, StringComparison.Ordinal);
        Assert.EndsWith("The engineer of record decides.", Flexure.Of(Strip, 1.5m, 1.5m).Statement, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("3", "0.85")]
    [InlineData("4", "0.85")]
    [InlineData("5", "0.80")]
    [InlineData("8", "0.65")]
    [InlineData("10", "0.65")]
    [OutsideCheck("Depth of the stress block over that of the neutral axis at 4, 5, 8 and 10 ksi", "0.85, 0.80, 0.65, 0.65", "ACI 318-19, 22.2.2.4.3", SourceMark.Memory)]
    public void The_block_is_shallower_in_stronger_concrete(string ksi, string beta) => Assert.Equal(D(beta), Flexure.Beta1(D(ksi)));

    [Fact]
    [OutsideCheck("Phi of flexure: general, precast boxes, precast three-sided structures", "0.90, 1.00, 0.95", "ACI 318-19, 21.2; AASHTO LRFD, Table 12.5.5-1", SourceMark.Memory)]
    public void Codes_disagree_on_phi_so_it_is_an_input()
    {
        Assert.Equal((0.90m, 1.00m, 0.95m), (Flexure.PhiTension, Flexure.PhiPrecastBox, Flexure.PhiThreeSided));
        Assert.Equal(24.251m, decimal.Round(Flexure.At(Strip with { Phi = Flexure.PhiPrecastBox }, 1.5m).DesignKipFt, 3));
        Assert.Throws<ArgumentOutOfRangeException>(() => Flexure.At(Strip, 9));
        Assert.Throws<ArgumentOutOfRangeException>(() => Flexure.At(Strip, -0.1m));
    }

    [Fact]
    public void More_cover_is_less_strength_and_the_ratio_is_one_at_the_specified_cover() =>
        Gen.Select(Gen.Decimal[0.75m, 3m], Gen.Decimal[0.01m, 1m]).Sample((cover, more) =>
            Flexure.At(Strip, cover + more).DesignKipFt < Flexure.At(Strip, cover).DesignKipFt && Flexure.Of(Strip, cover, cover).Ratio == 1);

    [Theory]
    [InlineData("dry", "0.016", "0.41")]
    [InlineData("moist", "0.012", "0.30")]
    [InlineData("deicer", "0.007", "0.18")]
    [InlineData("seawater", "0.006", "0.15")]
    [InlineData("water-retaining", "0.004", "0.10")]
    [OutsideCheck("Guide to reasonable crack widths: dry, moist, deicer, seawater, water-retaining", "0.016, 0.012, 0.007, 0.006, 0.004 in (0.41, 0.30, 0.18, 0.15, 0.10 mm)", "ACI 224R-01, Table 4.1", SourceMark.Memory)]
    public void Crack_widths_go_by_exposure(string exposure, string inches, string mm)
    {
        Assert.Equal(D(inches), Defects.WidthIn("ACI 224R", exposure));
        Assert.Equal(D(mm), decimal.Round(D(inches) * Si.MmPerIn, 2));
    }

    [Fact]
    [OutsideCheck("Crack of 0.011 in under deicers, and a spall 0.25 in deep at the same place", "wider than the guide's 0.007 in; cosmetic, at most 3/8 in: two findings", "ACI 224R-01, Table 4.1; Texas DOT, DMS-7305", SourceMark.Memory)]
    [OutsideCheck("Damage of 3/8 in depth and of more", "cosmetic, not cosmetic", "Texas DOT, DMS-7305", SourceMark.Published)]
    [OutsideCheck("Voids of 1 in2 and 1/4 in depth, and of more", "left, patched", "federal guide specification UFGS 03300N", SourceMark.Published)]
    public void A_crack_and_a_spall_are_two_findings()
    {
        Assert.True(0.011m > Defects.WidthIn("ACI 224R", "deicer"));
        Assert.Equal((true, true, false), (Defects.Cosmetic(0.25m), Defects.Cosmetic(0.375m), Defects.Cosmetic(0.376m)));
        Assert.Equal((false, true, true), (Defects.Patched(1, 0.25m), Defects.Patched(1.01m, 0.1m), Defects.Patched(0.5m, 0.26m)));
    }

    [Theory]
    [InlineData("0.005", "leave or seal", "cosmetic")]
    [InlineData("0.006", "leave or seal", "cosmetic")]
    [InlineData("0.0061", "seal or inject", "minor")]
    [InlineData("0.012", "seal or inject", "minor")]
    [InlineData("0.0121", "inject", "major")]
    [InlineData("0.026", "engineer", "major")]
    [OutsideCheck("Ladder of treatments that agencies commonly use: 0.006, 0.012, 0.025 in and wider", "leave or seal, seal or inject, inject, engineer", "ladders that agencies commonly use", SourceMark.CommonPractice)]
    [OutsideCheck("Classes of cracks at 0.006 and 0.012 in", "cosmetic, minor, major", "Florida DOT, Standard Specifications, 450", SourceMark.Memory)]
    public void A_width_falls_on_one_rung(string width, string agency, string florida) =>
        Assert.Equal((agency, florida), (Defects.Rung("agency", D(width))!.Rung, Defects.Rung("Florida 450", D(width))!.Rung));

    [Fact]
    [OutsideCheck("Crack of the load test of pipe; widths behind the exposure classes of bridges", "0.010 in; 0.017 and 0.013 in", "Iowa DOT, Instructional Memorandum 445, Appendix AA; AASHTO LRFD, 5.6.7", SourceMark.Memory)]
    [OutsideCheck("Widest crack that a shop procedure calls cosmetic", "0.005 in", "a public crack-repair procedure for thin-wall panels", SourceMark.Published)]
    public void Other_ladders_have_their_own_widths()
    {
        Assert.Equal((0.010m, 0.017m, 0.013m, 0.005m),
            (Defects.WidthIn("pipe load test", "over 12 in"), Defects.WidthIn("AASHTO LRFD", "class 1"), Defects.WidthIn("AASHTO LRFD", "class 2"), Defects.WidthIn("shop procedure", "cosmetic")));
        Assert.Null(Defects.Rung("ACI 224R", 0.02m));
        Assert.All(Defects.Cracks.GroupBy(c => c.Ladder), l => Assert.Equal(l.Select(c => c.WidthIn ?? 1), l.Select(c => c.WidthIn ?? 1).Order()));
    }
}
