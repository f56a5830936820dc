using CsCheck;
using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Concrete.Numbers;

namespace Traceability.Core.Tests.Concrete;

public sealed class StrengthAcceptanceTests
{
    private const string G = "5410 5290 5120 4880 4960 5230 4480 5640 5350 5190 5070 4940";
    private const string H = "6480 6210 5950 5620 6390 6150 5890 6020 6100 5390 6810 6240";
    private const string I = "5600 5180 4720 5210 5330 4690 5150 5480 5020 5260 5390 4810";

    private static IReadOnlyList<SeriesPoint> Series(string tests, decimal design) => StrengthAcceptance.Series(List(tests), design, SeriesCriteria.Aci318);

    // Numbered from 1, as a laboratory numbers its tests.
    private static string Which(IReadOnlyList<SeriesPoint> points, Func<SeriesPoint, bool> which) =>
        string.Join(' ', points.Select((p, i) => (p, n: i + 1)).Where(x => which(x.p)).Select(x => x.n));

    [Fact]
    [OutsideCheck("f'c 5,000 psi, tests 5410 5290 5120 4880 4960 5230 4480 5640 5350 5190 5070 4940: means of three", "5273.3 5096.7 4986.7 5023.3 4890.0 5116.7 5156.7 5393.3 5203.3 5066.7; low at tests 5 and 7", "ACI 318-19, 26.12.3.1(a)", SourceMark.Published, Tolerance = "0.05 psi")]
    [OutsideCheck("The same series: single tests below f'c - 500 psi", "test 7 (4,480 psi): investigation", "ACI 318-19, 26.12.3.1(b)", SourceMark.Published)]
    public void A_series_at_5000_psi()
    {
        var points = Series(G, 5000);
        Assert.Equal(List("5273.3 5096.7 4986.7 5023.3 4890.0 5116.7 5156.7 5393.3 5203.3 5066.7"), points.Skip(2).Select(p => decimal.Round(p.Running!.Value, 1)));
        Assert.Equal(("5 7", "7", "7", "5 7"), (Which(points, p => p.MeanLow), Which(points, p => p.SingleLow), Which(points, p => p.Investigate), Which(points, p => p.MixAction)));
        Assert.Null(points[1].Running);
    }

    [Fact]
    [OutsideCheck("f'c 6,000 psi, tests 6480 6210 5950 5620 6390 6150 5890 6020 6100 5390 6810 6240: means of three below f'c", "tests 4 (5926.7), 5 (5986.7), 10 (5836.7)", "ACI 318-19, 26.12.3.1(a)", SourceMark.Published, Tolerance = "0.05 psi")]
    [OutsideCheck("The same series: single tests below 0.90 f'c = 5,400 psi", "test 10 (5,390 psi)", "ACI 318-19, 26.12.3.1(b)", SourceMark.Published)]
    public void A_series_above_5000_psi()
    {
        var points = Series(H, 6000);
        Assert.Equal(("4 5 10", "10"), (Which(points, p => p.MeanLow), Which(points, p => p.SingleLow)));
        Assert.Equal(List("5926.7 5986.7 5836.7"), points.Where(p => p.MeanLow).Select(p => decimal.Round(p.Running!.Value, 1)));
    }

    [Fact]
    [OutsideCheck("f'c 5,000 psi with three single tests below it (4720, 4690, 4810): all accepted", "lowest mean of three 5036.7, lowest test 4,690 psi, no action", "ACI 318-19, 26.12.3.1", SourceMark.Published, Tolerance = "0.05 psi")]
    public void Single_tests_below_the_design_strength_are_accepted_within_the_criteria()
    {
        var points = Series(I, 5000);
        Assert.Equal((36.7m, 4690m, 3), (decimal.Round(points.Min(p => p.Running)!.Value, 1) - 5000, points.Min(p => p.Test), points.Count(p => p.Test < 5000)));
        Assert.DoesNotContain(points, p => p.MixAction || p.Investigate);
    }

    [Fact]
    [OutsideCheck("Mean and standard deviation of the two series", "5130.0, 298.5 psi (5.82 %) and 6104.2, 378.3 psi", "ACI 214R-11, sample statistics", SourceMark.Published, Tolerance = "0.05 psi")]
    public void The_statistics_of_the_series()
    {
        Assert.Equal((5130.0m, 298.5m, 5.82m), (List(G).Average(), decimal.Round(Statistics.StandardDeviation(List(G))!.Value, 1), decimal.Round(Statistics.VariationPct(List(G))!.Value, 2)));
        Assert.Equal((6104.2m, 378.3m), (decimal.Round(List(H).Average(), 1), decimal.Round(Statistics.StandardDeviation(List(H))!.Value, 1)));
    }

    [Theory]
    [InlineData(5000, 4500)]
    [InlineData(4000, 3500)]
    [InlineData(6000, 5400)]
    [OutsideCheck("Least single test for f'c 4,000, 5,000 and 6,000 psi", "3,500; 4,500; 5,400 psi", "ACI 318-19, 26.12.3.1(b)", SourceMark.Published)]
    public void A_single_test_turns_exactly_at_its_limit(int design, int limit)
    {
        Assert.False(StrengthAcceptance.Series([limit], design, SeriesCriteria.Aci318)[0].SingleLow);
        Assert.True(StrengthAcceptance.Series([limit - 0.01m], design, SeriesCriteria.Aci318)[0].SingleLow);
    }

    [Fact]
    [OutsideCheck("The criteria in megapascals: f'c 35 and 40 MPa", "least single test 31.5 and 36.0 MPa", "ACI 318M-19, 26.12.3.1", SourceMark.Published)]
    public void The_criteria_in_megapascals()
    {
        Assert.Equal((31.5m, 36.0m), (SeriesCriteria.Aci318M.LeastSingle(35), SeriesCriteria.Aci318M.LeastSingle(40)));
        Assert.Equal("5 7", Which(StrengthAcceptance.Series([.. List(G).Select(t => t * 7 / 1000)], 35, SeriesCriteria.Aci318M), p => p.MeanLow));
        Assert.Equal("7", Which(StrengthAcceptance.Series([.. List(G).Select(t => t * 7 / 1000)], 35, SeriesCriteria.Aci318M), p => p.SingleLow));
    }

    [Fact]
    public void A_mean_of_three_turns_exactly_at_the_design_strength() => Gen.Int[-900, 900].Array[2].Sample(off =>
    {
        decimal[] tests = [5000 + off[0], 5000 + off[1], 5000 - off[0] - off[1]];
        Assert.False(StrengthAcceptance.Series(tests, 5000, SeriesCriteria.Aci318)[2].MeanLow);
        tests[2] -= 0.01m;
        Assert.True(StrengthAcceptance.Series(tests, 5000, SeriesCriteria.Aci318)[2].MeanLow);
    });

    [Fact]
    public void A_stronger_test_never_makes_another_point_low() => Gen.Select(Gen.Int[4000, 6000].Array[3, 20], Gen.Int[0, 19], Gen.Int[1, 900]).Sample((tests, which, more) =>
    {
        var before = StrengthAcceptance.Series([.. tests.Select(t => (decimal)t)], 5000, SeriesCriteria.Aci318);
        tests[which % tests.Length] += more;
        var after = StrengthAcceptance.Series([.. tests.Select(t => (decimal)t)], 5000, SeriesCriteria.Aci318);
        Assert.All(before.Zip(after), pair => Assert.True((pair.First.MeanLow || !pair.Second.MeanLow) && (pair.First.SingleLow || !pair.Second.SingleLow)));
    });

    [Fact]
    public void An_empty_series_judges_nothing_and_a_design_strength_is_needed()
    {
        Assert.Empty(StrengthAcceptance.Series([], 5000, SeriesCriteria.Aci318));
        Assert.Null(StrengthAcceptance.Lot([], 5000, 10, 80));
        Assert.Throws<ArgumentOutOfRangeException>(() => StrengthAcceptance.Series([], 0, SeriesCriteria.Aci318));
    }

    [Theory]
    [InlineData("5100 5050 5200 5010 5300 5080 5150 5020 5400 4900", true)]
    [InlineData("5100 5050 5200 5010 5300 5080 5150 5020 4950 4900", false)]
    [InlineData("5600 5600 5600 5600 5600 5600 5600 5600 5600 4000", true)]
    [InlineData("5600 5600 5600 5600 5600 5600 5600 5600 5600 3990", false)]
    [InlineData("5000 5000 5000 5000 5000 5000 5000 5000 5000 4990", false)]
    [OutsideCheck("Ten tests of a lot at f'c 5,000 psi: one below; two below; one at 4,000; one at 3,990; mean 4,999", "accepted, not, accepted, not, not (mean, at most 10 % below, none under 0.80 f'c)", "ASTM C1577, acceptability of compressive strength", SourceMark.Memory)]
    public void A_lot_by_a_product_standard(string tests, bool met) =>
        Assert.Equal(met, StrengthAcceptance.Lot(List(tests), 5000, StrengthAcceptance.Product.MostBelowPct, StrengthAcceptance.Product.LeastPct)!.Met);

    [Fact]
    public void A_lot_does_not_depend_on_the_order_of_its_tests() => Gen.Int[3800, 6200].Array[1, 25].Sample(tests =>
    {
        LotResult Judge(IEnumerable<int> order) => StrengthAcceptance.Lot([.. order.Select(t => (decimal)t)], 5000, 10, 80)!;
        Assert.Equal(Judge(tests), Judge(tests.Reverse()));
        Assert.Equal(Judge(tests), Judge(tests.Order()));
    });

    [Fact]
    [OutsideCheck("f'c 6,000 psi, cores 4,940, 4,970 and 5,370 psi", "mean 5,090 psi, 84.8 %, lowest 82.3 %: met to whole percent, not met strictly", "ACI Technical Committee Manual 2020, 11.6.7, with ACI 318-19, 26.12.6.1(e)", SourceMark.Published, Tolerance = "0.05 %")]
    public void Cores_by_the_implied_tolerance_and_strictly()
    {
        CoreResult Judge(ShareReading reading) => StrengthAcceptance.CoreTest([4940, 4970, 5370], 6000, StrengthAcceptance.CoreLimits.MeanPct, StrengthAcceptance.CoreLimits.SinglePct, reading)!;
        // The publication states the mean to 10 psi.
        var mean = Strength.MeanPsi([4940, 4970, 5370], RoundingRule.HalfEven);
        Assert.Equal((5090m, 84.8m, 82.3m), (mean, decimal.Round(mean / 60, 1), decimal.Round(Judge(ShareReading.Strict).LeastPct, 1)));
        Assert.True(Judge(ShareReading.ImpliedTolerance).Met);
        Assert.False(Judge(ShareReading.Strict).Met);
    }

    [Theory]
    [InlineData("84.5", true)]
    [InlineData("84.499", false)]
    [OutsideCheck("A limit printed \"85 %\", observed 84.5 %", "reached", "ACI Technical Committee Manual 2020, 11.6.7", SourceMark.Published)]
    public void A_limit_in_whole_percent_is_reached_from_half_a_percent_below(string share, bool reached)
    {
        Assert.Equal(reached, StrengthAcceptance.Reaches(D(share), 85, ShareReading.ImpliedTolerance));
        Assert.False(StrengthAcceptance.Reaches(D(share), 85, ShareReading.Strict));
    }

    [Theory]
    [InlineData("4250 4250 4250", true)]
    [InlineData("4250 4250 4249", false)]
    [InlineData("4500 4500 3750", true)]
    [InlineData("4510 4510 3740", false)]
    [OutsideCheck("Cores at f'c 5,000 psi: mean 4,250 and less, lowest 3,750 and 3,740 psi", "met at 0.85 and 0.75 f'c, not below either", "ACI 318-19, 26.12.6.1(e)", SourceMark.Published)]
    public void Cores_turn_exactly_at_their_shares(string cores, bool met) => Assert.Equal(met, StrengthAcceptance.CoreTest(List(cores), 5000, 85, 75, ShareReading.Strict)!.Met);

    [Fact]
    [OutsideCheck("Cores for one low test", "three", "ACI 318-19, 26.12.6.1", SourceMark.Published)]
    [OutsideCheck("Days a core is kept sealed before its test", "5 to 7", "ASTM C42/C42M", SourceMark.Memory)]
    public void Two_cores_say_nothing()
    {
        Assert.Null(StrengthAcceptance.CoreTest([5000, 5000], 5000, 85, 75, ShareReading.Strict));
        Assert.Equal((3, 5m, 7m), (StrengthAcceptance.Cores, StrengthAcceptance.CoreDays.Least, StrengthAcceptance.CoreDays.Greatest));
    }

    [Theory]
    [InlineData(4250, 5000, 4000, true)]
    [InlineData(4249, 5000, 4000, false)]
    [InlineData(4500, 5500, 4001, false)]
    [InlineData(4500, 5500, 4000, true)]
    [OutsideCheck("Field-cured over standard-cured (f'c): 4,250/5,000 (4,000), 4,249/5,000 (4,000), 4,500/5,500 (4,001), 4,500/5,500 (4,000) psi", "enough at 85 %, not, not (4,675 needed), enough at f'c + 500", "ACI 318-19, 26.5.3.2", SourceMark.Memory)]
    public void Field_cured_companions_need_85_percent_or_500_psi_over(int field, int standard, int design, bool enough) =>
        Assert.Equal(enough, StrengthAcceptance.CuringShown(field, standard, design, StrengthAcceptance.FieldCured.Pct, StrengthAcceptance.FieldCured.OverPsi));

    [Theory]
    [InlineData(4000, "400", 30, 4536)]
    [InlineData(5000, "520", 30, 5712)]
    [InlineData(5000, "520", 18, 5847)]
    [InlineData(6000, "560", 22, 6795)]
    [InlineData(8000, "700", 15, 9092)]
    [OutsideCheck("Required average: (4,000; s 400; 30), (5,000; 520; 30), (5,000; 520; 18), (6,000; 560; 22), (8,000; 700; 15)", "4,536; 5,712; 5,847; 6,795; 9,092 psi", "ACI 301-16, 4.2.3.3 (ACI 318-11, Table 5.3.2.1)", SourceMark.Published, Tolerance = "0.5 psi")]
    public void The_required_average_follows_from_the_record(int design, string s, int tests, int expected) =>
        Assert.Equal(expected, decimal.Round(RequiredAverage.FromRecords(design, D(s), tests)!.Value));

    [Theory]
    [InlineData(15, "1.16")]
    [InlineData(18, "1.112")]
    [InlineData(20, "1.08")]
    [InlineData(22, "1.06")]
    [InlineData(25, "1.03")]
    [InlineData(30, "1.00")]
    [InlineData(200, "1.00")]
    [OutsideCheck("Factor on the standard deviation for 15, 18, 20, 22, 25, 30 tests", "1.16, 1.112, 1.08, 1.06, 1.03, 1.00", "ACI 318-11, Table 5.3.1.2", SourceMark.Published)]
    public void The_factor_goes_by_straight_line_between_its_points(int tests, string factor) => Assert.Equal(D(factor), RequiredAverage.Factor(tests));

    [Theory]
    [InlineData(2500, 3500, 3500)]
    [InlineData(5000, 6200, 6200)]
    [InlineData(6000, 7300, 7400)]
    [OutsideCheck("Required average without records for 2,500 and 5,000 psi, and 6,000 psi before 318-02", "3,500; 6,200; 7,400 psi", "ACI 318, editions before 318-02", SourceMark.Published)]
    [OutsideCheck("Required average without records for 6,000 psi from 318-02 on", "7,300 psi", "ACI 301-16, 4.2.3.3", SourceMark.Memory)]
    public void Without_a_record_the_edition_decides(int design, int from2002, int before)
    {
        Assert.Equal(from2002, RequiredAverage.WithoutRecords(design, NoRecordRule.From2002));
        Assert.Equal(before, RequiredAverage.WithoutRecords(design, NoRecordRule.Before2002));
    }

    [Theory]
    [InlineData(5000, "505.05")]
    [InlineData(6000, "606.06")]
    [OutsideCheck("k s at which the second criterion takes over, f'c 5,000 and 6,000 psi", "505.05 and 606.06 psi", "ACI 301-16, 4.2.3.3", SourceMark.Memory, Tolerance = "0.005 psi")]
    public void The_second_criterion_takes_over_at_its_crossing(int design, string ks)
    {
        decimal First(decimal s) => design + 1.34m * s;
        Assert.Equal(First(D(ks) - 0.01m), RequiredAverage.FromRecords(design, D(ks) - 0.01m, 30));
        Assert.True(RequiredAverage.FromRecords(design, D(ks) + 0.01m, 30) > First(D(ks) + 0.01m));
    }

    [Fact]
    [OutsideCheck("Two records: 14 tests with s 480, 18 tests with s 560 psi", "526.8 psi", "ACI 318-11, 5.3.1.1", SourceMark.Memory, Tolerance = "0.05 psi")]
    public void Two_records_are_pooled_by_their_degrees_of_freedom()
    {
        Assert.Equal(526.8m, decimal.Round(RequiredAverage.Pooled(14, 480, 18, 560)!.Value, 1));
        Assert.Null(RequiredAverage.Pooled(9, 480, 40, 560));
        Assert.Null(RequiredAverage.Pooled(14, 480, 15, 560));
        Assert.Null(RequiredAverage.FromRecords(5000, 400, 14));
    }

    [Theory]
    [InlineData("0", "0", 0)]
    [InlineData("1", "0", 1)]
    [InlineData("150", "0", 1)]
    [InlineData("151", "0", 2)]
    [InlineData("40", "5001", 2)]
    [InlineData("450", "5000", 3)]
    [OutsideCheck("Strength tests of a day: 1, 150, 151, 450 yd3; 40 yd3 with 5,001 ft2", "1, 1, 2, 3; 2", "ACI 318-08, 5.6.2 (318-19, 26.12.2.1)", SourceMark.Published)]
    public void A_day_needs_a_test_for_each_portion_of_volume_and_surface(string yd3, string ft2, int tests) => Assert.Equal(tests, SamplingFrequency.OfDay(D(yd3), D(ft2)));

    [Fact]
    [OutsideCheck("Batches sampled of a class with 3 and with 40 batches", "3 and 5", "ACI 318-08, 5.6.2.2", SourceMark.Published)]
    [OutsideCheck("Cores of 15, 16 and 31 box sections, one from each group of 15 or fraction", "1, 2, 3", "AASHTO M 259-92, 10.3", SourceMark.Published)]
    public void Classes_and_groups_have_their_own_count()
    {
        Assert.Equal((3, 5), (SamplingFrequency.OfClass(3), SamplingFrequency.OfClass(40)));
        Assert.Equal((1, 2, 3), (SamplingFrequency.Portions(15, 15), SamplingFrequency.Portions(16, 15), SamplingFrequency.Portions(31, 15)));
    }
}
