using System.Globalization;
using CsCheck;
using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Tests.Concrete;

public sealed class BatchRulesTests
{
    private static decimal D(string text) => decimal.Parse(text, CultureInfo.InvariantCulture);

    [Theory]
    [InlineData(C94Edition.From21a, "231.7", true)]
    [InlineData(C94Edition.From21a, "231.8", false)]
    [InlineData(C94Edition.Through20, "231.0", true)]
    [InlineData(C94Edition.Through20, "231.1", false)]
    [InlineData(C94Edition.C21, "231.1", false)]
    [OutsideCheck("Batch water of 228.3 lb by edition, all mixing water 270 lb: greatest", "231.0 lb through C94-21 (1 % of the mixing water), 231.72 lb from C94-21a (1.5 % of the target)", "ASTM C94/C94M, accuracy of batch water", SourceMark.Published, Tolerance = "0.005 lb")]
    public void The_edition_decides_what_batch_water_is_compared_with(C94Edition edition, string batched, bool inside) =>
        Assert.Equal(inside, Weighing.WaterAdded(edition, 228.3m, 270).Holds(D(batched)));

    [Theory]
    [InlineData("278.1", true)]
    [InlineData("278.2", false)]
    [InlineData("261.9", true)]
    [InlineData("261.8", false)]
    [OutsideCheck("All mixing water of 270 lb through C94-21", "261.9 to 278.1 lb", "ASTM C94/C94M through C94-21, +-3 % of the mixing water", SourceMark.Published)]
    public void All_mixing_water_was_judged_until_the_edition_of_2021(string total, bool inside)
    {
        Assert.Equal(inside, Weighing.WaterTotal(C94Edition.Through20, 270).Holds(D(total)));
        Assert.True(Weighing.WaterTotal(C94Edition.From21a, 270).Holds(D(total)));
    }

    [Theory]
    [InlineData(35, 5, 30, 40)]
    [InlineData(200, 5, 194, 206)]
    [OutsideCheck("Liquid admixture: 35 oz at 5 oz/cwt, 200 oz at 5 oz/cwt", "+-5 oz, +-6 oz", "ASTM C94/C94M, the larger of 3 % and the dose for 100 lb of cement", SourceMark.Memory)]
    public void A_small_dose_may_be_off_by_the_dose_of_a_hundredweight(int required, int dose, int least, int greatest) =>
        Assert.Equal(new Band(least, greatest), Weighing.LiquidAdmixtureOz(required, dose));

    [Theory]
    [InlineData(10000, 2000, 15)]
    [InlineData(10000, 3750, 15)]
    [InlineData(10000, 8000, 32)]
    [OutsideCheck("Scale of 10,000 lb at 2,000 and at 8,000 lb: largest error", "15 lb and 32 lb", "ASTM C94/C94M, the larger of 0.15 % of capacity and 0.4 % of the net load", SourceMark.Memory)]
    public void A_scale_has_a_floor_of_its_capacity(int capacity, int load, int error) => Assert.Equal(error, Weighing.ScaleError(capacity, load));

    [Fact]
    public void A_scale_is_accurate_when_every_quarter_of_its_range_was_checked()
    {
        (decimal, decimal)[] good = [(2000, 2014), (5000, 5020), (7500, 7470), (10000, 10040)];
        Assert.True(Weighing.ScaleAccurate(10000, good));
        Assert.False(Weighing.ScaleAccurate(10000, good[1..]));
        Assert.False(Weighing.ScaleAccurate(10000, [.. good[..3], (10000, 10041)]));
    }

    [Fact]
    [OutsideCheck("Volumetric batching of 700 lb of cement", "700 to 728 lb", "ASTM C685/C685M, -0 / +4 %", SourceMark.Memory)]
    public void Volumetric_cement_may_only_be_over()
    {
        Assert.Equal(new Band(700, 728), Volumetric.Cement(700));
        Assert.Equal((2m, 3m, 1m), (Volumetric.AggregatePct, Volumetric.AdmixturePct, Volumetric.WaterPct));
    }

    [Fact]
    [OutsideCheck("Moisture correction per yd3: 270 lb of design water, free water of sand +54.35 and of stone -7.08 lb", "222.73 lb to be metered", "ASTM C127, C128 and C566, oven-dry basis", SourceMark.Memory, Tolerance = "0.005 lb")]
    [OutsideCheck("The same on the saturated surface-dry mass, the short cut", "222.12 lb, 0.6 lb less: the two are not mixed", "ASTM C127, C128 and C566", SourceMark.Memory, Tolerance = "0.005 lb")]
    public void The_water_to_meter_is_the_design_less_what_aggregates_bring()
    {
        var sand = BatchWater.FreeWater(BatchWater.WetFromOvenDry(BatchWater.OvenDryFromSsd(1250, 1.2m), 5.6m), 5.6m, 1.2m);
        var stone = BatchWater.FreeWater(BatchWater.WetFromOvenDry(BatchWater.OvenDryFromSsd(1780, 0.6m), 0.2m), 0.2m, 0.6m);
        Assert.Equal(222.73m, decimal.Round(BatchWater.Target(270, [sand, stone]), 2));
        Assert.Equal(222.12m, decimal.Round(BatchWater.Target(270, [1250 * 0.044m, 1780 * -0.004m]), 2));
        Assert.Equal(219.73m, decimal.Round(BatchWater.Target(270, [sand, stone], 3), 2));
    }

    [Theory]
    [InlineData("7.05", true)]
    [InlineData("7.04", false)]
    [OutsideCheck("Water in admixtures with 705 lb of cementitious: 7.05 and 7.04 lb", "counts, does not", "ASTM C94/C94M and ACI 301, a change of w/cm of 0.01", SourceMark.Memory)]
    public void Water_in_admixtures_counts_from_a_hundredth_of_w_cm(string water, bool counts) => Assert.Equal(counts, BatchWater.AdmixtureWaterCounts(D(water), 705));

    [Fact]
    public void Field_water_ends_at_the_largest_ratio()
    {
        Assert.Equal(12m, BatchWater.MostFieldWater(0.40m, 270, 705));
        Assert.Equal(0m, BatchWater.MostFieldWater(0.38m, 270, 705));
        Assert.Equal(0.40m, BatchWater.WaterToCementitious(270 + 12, 705));
    }

    private static readonly AbsoluteIngredient[] Mix = [new(3 * 564, 3.15m), new(3 * 141, 2.90m), new(3 * 1250, 2.63m), new(3 * 1780, 2.70m), new(3 * 270, 1)];

    [Fact]
    [OutsideCheck("Density: measure of 0.2500 ft3, 7.62 lb empty, 43.55 lb full", "143.72 lb/ft3", "ASTM C138/C138M-17a, D = (Mc - Mm)/Vm", SourceMark.Published)]
    [OutsideCheck("Yield of 12,015 lb at that density", "83.60 ft3 = 3.0963 yd3", "ASTM C138/C138M-17a, Y = M/D", SourceMark.Published, Tolerance = "0.005 ft3, 0.00005 yd3")]
    [OutsideCheck("Relative yield of a batch designed as 3 yd3", "1.032", "ASTM C138/C138M-17a, Ry = Y/Yd", SourceMark.Published, Tolerance = "0.0005")]
    [OutsideCheck("Cementitious content, 705 lb/yd3 as designed", "683.1 lb/yd3", "ASTM C138/C138M-17a, C = Cb/Y", SourceMark.Published, Tolerance = "0.05 lb/yd3")]
    [OutsideCheck("Gravimetric air, specific gravities 3.15, 2.90, 2.63, 2.70", "V 78.472 ft3, T 153.11 lb/ft3, A 6.13 %", "ASTM C138/C138M-17a, A = (T - D)/T", SourceMark.Published, Tolerance = "0.0005 ft3, 0.005 lb/ft3, 0.005 %")]
    public void Density_yield_cement_content_and_air_of_one_batch()
    {
        var density = Yield.DensityLbFt3(43.55m, 7.62m, 0.25m);
        Assert.Equal(143.72m, density);
        var batch = Mix.Sum(i => i.MassLb);
        Assert.Equal(12_015m, batch);
        var yield = Yield.Ft3(batch, density);
        Assert.Equal((83.60m, 3.0963m), (decimal.Round(yield, 2), decimal.Round(yield / Yield.Ft3PerYd3, 4)));
        Assert.Equal(1.032m, decimal.Round(Yield.Relative(yield / Yield.Ft3PerYd3, 3), 3));
        Assert.Equal(683.1m, decimal.Round(Yield.CementContentLbYd3(3 * 705, yield), 1));
        var volume = Yield.AbsoluteFt3(Mix);
        var theoretical = Yield.TheoreticalLbFt3(Mix);
        Assert.Equal((78.472m, 153.11m, 6.13m), (decimal.Round(volume, 3), decimal.Round(theoretical, 2), decimal.Round(Yield.AirPct(theoretical, density), 2)));
        Assert.Equal(decimal.Round((yield - volume) / yield * 100, 10), decimal.Round(Yield.AirPct(theoretical, density), 10));
    }

    [Fact]
    [OutsideCheck("143.72 lb/ft3 in SI", "2,302.2 kg/m3", "NIST Special Publication 811, 2008, appendix B.8", SourceMark.Memory, Tolerance = "0.05 kg/m3")]
    public void Density_in_si_is_the_same_density() => Assert.Equal(2302.2m, decimal.Round(Yield.DensityKgM3(143.72m), 1));

    [Theory]
    [InlineData("1", "0.2")]
    [InlineData("1.5", "0.4")]
    [InlineData("2", "0.5")]
    [InlineData("3", "1.0")]
    [OutsideCheck("Least measure for aggregate of 1, 1 1/2, 2 and 3 in", "0.2, 0.4, 0.5, 1.0 ft3", "ASTM C138/C138M, Table 1", SourceMark.Memory)]
    public void The_measure_goes_by_the_aggregate(string aggregate, string measure)
    {
        Assert.Equal(D(measure), Yield.LeastMeasureFt3(D(aggregate)));
        Assert.Null(Yield.LeastMeasureFt3(3.1m));
    }

    [Theory]
    [InlineData("20", "0.1")]
    [InlineData("43.55", "0.13065")]
    [OutsideCheck("Balance at 20 and at 43.55 lb", "0.1 lb; 0.3 % of the load", "ASTM C138/C138M-17, 4.1", SourceMark.Published)]
    public void The_balance_has_a_floor(string load, string error) => Assert.Equal(D(error), Yield.BalanceLb(D(load)));

    [Fact]
    public void More_air_is_less_density_and_more_yield() =>
        Gen.Select(Gen.Decimal[120m, 150m], Gen.Decimal[0.1m, 3m]).Sample((density, less) =>
            Yield.Ft3(12015, density - less) > Yield.Ft3(12015, density) && Yield.AirPct(153, density - less) > Yield.AirPct(153, density)
            && Yield.CementContentLbYd3(2115, Yield.Ft3(12015, density - less)) < Yield.CementContentLbYd3(2115, Yield.Ft3(12015, density)));

    [Fact]
    [OutsideCheck("Chloride in calcium chloride by atomic masses", "0.6389 by mass", "standard atomic weights, Cl 35.453 in CaCl2 110.984", SourceMark.Memory, Tolerance = "0.00005")]
    public void Chloride_is_two_atoms_of_three() => Assert.Equal(0.6389m, decimal.Round(Chloride.OfCalciumChloride, 4));

    [Theory]
    [InlineData("7.05", "77", "3.468", "0.492", true, false, false)]
    [InlineData("7.05", "94", "4.234", "0.601", true, false, false)]
    [InlineData("16.5", "32", "3.373", "0.478", true, false, false)]
    [OutsideCheck("705 lb/yd3 with flake of 77 % at 1.0 %: chloride", "3.468 lb, 0.492 %: C0 met, C1 and C2 not met", "ACI 318-19, Table 19.3.2.1, limits 1.00, 0.30, 0.15 %", SourceMark.Published, Tolerance = "0.0005")]
    [OutsideCheck("The same dose of pellet of 94 %, and 1.5 gal/yd3 of 32 % solution at 11.0 lb/gal", "0.601 % and 0.478 %", "ACI 318-19, Table 19.3.2.1; product strengths of ASTM D98", SourceMark.Memory, Tolerance = "0.0005 %")]
    public void The_same_dose_of_another_product_is_another_chloride(string product, string strength, string chloride, string pct, bool c0, bool c1, bool c2)
    {
        var lb = Chloride.OfProduct(D(product), D(strength));
        var basis = Chloride.Basis(ChlorideBasis.Cementitious, 564, 141);
        Assert.Equal(705m, basis);
        var share = Chloride.Pct(lb, basis);
        Assert.Equal((D(chloride), D(pct)), (decimal.Round(lb, 3), decimal.Round(share, 3)));
        Assert.Equal((c0, c1, c2), (Met(CorrosionClass.C0), Met(CorrosionClass.C1), Met(CorrosionClass.C2)));
        bool Met(CorrosionClass exposure) => share <= Chloride.LargestPct(exposure, prestressed: false);
    }

    [Theory]
    [InlineData("77", "0.610", "0.305", "0.122")]
    [InlineData("94", "0.500", "0.250", "0.100")]
    [InlineData("32", "1.467", "0.734", "0.293")]
    [OutsideCheck("Largest dose before any background: flake, pellet, 32 % solution, in C1 and C2; flake prestressed", "0.610, 0.500, 1.467 % in C1; 0.305, 0.250, 0.734 % in C2; 0.122 %", "ACI 318-19, Table 19.3.2.1", SourceMark.Published, Tolerance = "0.0005 %")]
    public void The_largest_dose_follows_from_limit_and_strength(string strength, string c1, string c2, string prestressed)
    {
        Assert.Equal((D(c1), D(c2), D(prestressed)), (Dose(CorrosionClass.C1, false), Dose(CorrosionClass.C2, false), Dose(CorrosionClass.C2, true)));
        decimal Dose(CorrosionClass exposure, bool pre) => decimal.Round(Chloride.LargestDosePct(Chloride.LargestPct(exposure, pre), D(strength)), 3);
    }

    [Theory]
    [InlineData(ChlorideBasis.Cementitious, 600, "0.350")]
    [InlineData(ChlorideBasis.Cement, 300, "0.701")]
    [OutsideCheck("Cement 300, supplementary 400, pellet 3.5 lb: chloride", "2.102 lb; 0.350 % of 300 + 300 lb by the edition of 2019, 0.701 % of cement by that of 2014", "ACI 318-19 and 318-14, Table 19.3.2.1", SourceMark.Memory, Tolerance = "0.0005 %")]
    public void Supplementary_materials_count_up_to_the_cement(ChlorideBasis basis, int mass, string pct)
    {
        Assert.Equal(mass, Chloride.Basis(basis, 300, 400));
        Assert.Equal(D(pct), decimal.Round(Chloride.Pct(Chloride.OfProduct(3.5m, Chloride.PelletPct), mass), 3));
        // Without the cap the limit of class C1 would seem just met.
        Assert.Equal(0.300m, decimal.Round(Chloride.Pct(Chloride.OfProduct(3.5m, Chloride.PelletPct), 700), 3));
    }

    [Fact]
    [OutsideCheck("600 lb of cement at 0.15 %, in concrete of 3,800 lb/yd3", "0.90 lb/yd3; 0.024 % of the concrete", "Concrete Construction, question on chloride by weight of concrete", SourceMark.Published, Tolerance = "0.0005 %")]
    public void A_share_of_cement_is_a_smaller_share_of_concrete()
    {
        var lb = 600 * Chloride.LargestPct(CorrosionClass.C2, prestressed: false) / 100;
        Assert.Equal(0.90m, lb);
        Assert.Equal(0.024m, decimal.Round(Chloride.Pct(lb, 3800), 3));
    }

    [Fact]
    [OutsideCheck("Largest chloride of prestressed members in every class", "0.06 %", "ACI 318-19, Table 19.3.2.1", SourceMark.Published)]
    public void Prestressed_members_have_one_limit() =>
        Assert.All(Enum.GetValues<CorrosionClass>(), c => Assert.Equal(0.06m, Chloride.LargestPct(c, prestressed: true)));

    [Fact]
    public void Background_chloride_only_adds() =>
        Gen.Select(Gen.Decimal[0m, 10m], Gen.Decimal[100m, 900m], Gen.Decimal[0m, 1m]).Sample((cl, basis, more) => Chloride.Pct(cl, basis, more) >= Chloride.Pct(cl, basis));

    private static readonly DateTimeOffset Noon = new(2026, 3, 4, 12, 0, 0, TimeSpan.FromHours(-5));

    [Fact]
    [OutsideCheck("Start of the discharge clock: cement on damp aggregate 4 min before the water", "the earlier contact", "ASTM C94/C94M, 10.7, as explained in Concrete Construction", SourceMark.Published)]
    public void The_clock_starts_at_the_first_contact()
    {
        Assert.Equal(Noon.AddMinutes(-4), DischargeClock.Start(Noon, Noon.AddMinutes(-4)));
        Assert.Equal(Noon, DischargeClock.Start(Noon, Noon.AddMinutes(4)));
        Assert.Equal(Noon, DischargeClock.Start(Noon, null));
        Assert.Equal(Noon, DischargeClock.Start(null, Noon));
        Assert.Null(DischargeClock.Start(null, null));
    }

    [Fact]
    [OutsideCheck("Limit on discharge where nobody states one", "90 min through C94-20; none from C94-21 on", "ASTM C94/C94M-21, 6.1.10 and 12.9", SourceMark.Published)]
    [OutsideCheck("89 min and 301 revolutions; 91 min and 100 revolutions", "both late: the first limit reached counts", "ASTM C94/C94M, 10.7, editions with revolutions", SourceMark.Published)]
    public void The_edition_decides_who_sets_the_time()
    {
        Assert.Equal(90m, DischargeClock.LimitMinutes(C94Edition.Through20, null, 60));
        Assert.Null(DischargeClock.LimitMinutes(C94Edition.C21, null, null));
        Assert.Equal(60m, DischargeClock.LimitMinutes(C94Edition.From21a, null, 60));
        Assert.Equal(75m, DischargeClock.LimitMinutes(C94Edition.From21a, 75, 60));
        Assert.Equal((true, false, false), (DischargeClock.InTime(90, 300), DischargeClock.InTime(89, 301), DischargeClock.InTime(91, 100)));
    }

    [Theory]
    [InlineData("F0", null, 2500, false)]
    [InlineData("F1", "0.55", 3500, true)]
    [InlineData("F2", "0.45", 4500, true)]
    [InlineData("F3", "0.40", 5000, true)]
    [InlineData("S1", "0.50", 4000, false)]
    [InlineData("S2", "0.45", 4500, false)]
    [InlineData("S3", "0.45", 4500, false)]
    [InlineData("W1", null, 2500, false)]
    [InlineData("W2", "0.50", 4000, false)]
    [InlineData("C1", null, 2500, false)]
    [InlineData("C2", "0.40", 5000, false)]
    [OutsideCheck("Largest w/cm and least strength of class C2", "0.40, 5,000 psi", "ACI 318-19, Table 19.3.2.1, worksheet of a ready-mixed concrete association", SourceMark.Published)]
    [OutsideCheck("Largest w/cm and least strength of F1, F2, F3", "0.55, 3,500; 0.45, 4,500; 0.40, 5,000 psi, with air", "ACI 318-19, Table 19.3.2.1", SourceMark.Memory)]
    public void Classes_of_exposure_ask_ratio_strength_and_air(string name, string? ratio, int strength, bool air) =>
        Assert.Equal(new ExposureClass(name, ratio is null ? null : D(ratio), strength, air), Exposure.Of(name));

    [Fact]
    public void Several_classes_ask_the_most_of_each()
    {
        Assert.Equal(new ExposureClass("F2 C2 S1", 0.40m, 5000, true), Exposure.Together("F2", "C2", "S1"));
        Assert.Equal(new ExposureClass("F0 W1", null, 2500), Exposure.Together("F0", "W1"));
        Assert.Null(Exposure.Of("X9"));
        Assert.Throws<ArgumentException>(() => Exposure.Together("X9"));
        Assert.Throws<ArgumentException>(() => Exposure.Together());
    }

    [Fact]
    [OutsideCheck("Supplementary materials in class F3", "fly ash 25 %, slag 50 %, silica fume 10 %, all 50 %", "ACI 318-19, 26.4.2.2", SourceMark.Memory)]
    public void Supplementary_materials_have_caps_where_it_freezes()
    {
        Assert.True(Exposure.F3Caps.Hold(50, 25, 15, 10));
        Assert.False(Exposure.F3Caps.Hold(74, 26, 0, 0));
        Assert.False(Exposure.F3Caps.Hold(49, 0, 51, 0));
        Assert.False(Exposure.F3Caps.Hold(89, 0, 0, 11));
        Assert.False(Exposure.F3Caps.Hold(49, 21, 20, 10));
    }

    [Theory]
    [InlineData("2", "1.5", "2.5")]
    [InlineData("2.01", "1.01", "3.01")]
    [InlineData("4", "3", "5")]
    [InlineData("4.5", "3.0", "6.0")]
    [OutsideCheck("Nominal slump of 2, 4 and 4 1/2 in", "+-1/2, +-1, +-1 1/2 in", "ASTM C94/C94M", SourceMark.Memory)]
    public void Nominal_slump_goes_by_its_size(string slump, string least, string greatest) => Assert.Equal(new Band(D(least), D(greatest)), SlumpTolerance.Nominal(D(slump)));

    [Theory]
    [InlineData("3", "1.5")]
    [InlineData("4", "1.5")]
    [OutsideCheck("Maximum slump of 3 and of 4 in", "1 1/2 to 3 in, 1 1/2 to 4 in", "ASTM C94/C94M, +0 / -1 1/2 and +0 / -2 1/2 in", SourceMark.Memory)]
    public void Maximum_slump_is_never_passed(string slump, string least) => Assert.Equal(new Band(D(least), D(slump)), SlumpTolerance.Maximum(D(slump)));

    [Theory]
    [InlineData("22", "20.5", "23.5")]
    [InlineData("26", "23.5", "28.5")]
    [OutsideCheck("Slump flow of 22 and of 26 in", "20.5 to 23.5, 23.5 to 28.5 in", "ASTM C94/C94M", SourceMark.Memory)]
    public void Slump_flow_goes_by_its_size(string flow, string least, string greatest) => Assert.Equal(new Band(D(least), D(greatest)), SlumpTolerance.Flow(D(flow)));

    [Fact]
    public void What_has_no_volume_no_density_or_no_basis_is_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => Yield.DensityLbFt3(40, 7, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Yield.Ft3(100, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Yield.Relative(3, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Yield.CementContentLbYd3(700, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Yield.AirPct(0, 140));
        Assert.Throws<ArgumentOutOfRangeException>(() => Chloride.Pct(1, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Chloride.LargestDosePct(0.3m, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Exposure.F3Caps.Hold(0, 0, 0, 0));
    }
}
