using CsCheck;
using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Concrete.Numbers;

namespace Traceability.Core.Tests.Concrete;

public sealed class ControlTests
{
    [Theory]
    [InlineData(2, "1.128379", "0.852502")]
    [InlineData(3, "1.692569", "0.888368")]
    [InlineData(4, "2.058751", "0.879808")]
    [InlineData(5, "2.325929", "0.864082")]
    [InlineData(6, "2.534413", "0.848040")]
    [InlineData(7, "2.704357", "0.833205")]
    [InlineData(8, "2.847201", "0.819831")]
    [InlineData(9, "2.970026", "0.807834")]
    [InlineData(10, "3.077505", "0.797051")]
    [OutsideCheck("Mean and deviation of the range of 2 to 10 normal values, by integration of the studentized range with R 4.2.2", "d2 1.128379 ... 3.077505, d3 0.852502 ... 0.797051", "R 4.2.2, ptukey and integrate", SourceMark.Published, Tolerance = "0.0006")]
    public void The_constants_are_those_of_normal_ranges(int n, string d2, string d3)
    {
        var constants = ControlChart.Constants(n)!;
        Assert.True(Math.Abs(constants.D2 - D(d2)) < 0.0006m && Math.Abs(constants.D3 - D(d3)) < 0.0006m);
    }

    [Fact]
    [OutsideCheck("Constants d2 for 2 to 5 cylinders", "1.128, 1.693, 2.059, 2.326", "ACI 214R-11", SourceMark.Memory)]
    [OutsideCheck("Upper limit of ranges of two, over their mean (D4)", "3.267", "ASTM MNL 7", SourceMark.Memory, Tolerance = "0.002")]
    public void The_constants_are_the_printed_ones()
    {
        Assert.Equal(List("1.128 1.693 2.059 2.326"), Enumerable.Range(2, 4).Select(n => ControlChart.Constants(n)!.D2));
        Assert.True(Math.Abs(3.267m - ControlChart.Constants(2)!.UpperRange) < 0.002m);
        Assert.Equal(0, ControlChart.Constants(2)!.LowerRange);
        Assert.Null(ControlChart.Constants(1));
        Assert.Null(ControlChart.Constants(11));
    }

    [Fact]
    [OutsideCheck("Individuals chart of 5410 5290 5120 4880 4960 5230 4480 5640 5350 5190 5070 4940 psi, computed with R 4.2.2", "mean 5130, mean moving range 317.2727, limits 4286.1896 and 5973.8104 psi", "R 4.2.2, mean, diff and abs", SourceMark.Published, Tolerance = "0.00005 psi")]
    public void The_chart_of_a_series()
    {
        var chart = ControlChart.Of(List("5410 5290 5120 4880 4960 5230 4480 5640 5350 5190 5070 4940"))!;
        Assert.Equal((5130m, 317.2727m, 4286.1896m, 5973.8104m), (chart.Mean, decimal.Round(chart.MeanRange, 4), decimal.Round(chart.Lower, 4), decimal.Round(chart.Upper, 4)));
        Assert.Equal([(7, "a jump from the test before it")], chart.Signals.Where(s => s.Index == 7 && chart.UpperRange < 1160));
    }

    [Fact]
    public void A_chart_names_what_calls_for_a_look()
    {
        var chart = ControlChart.Of(List("100 101 99 100 101 99 100 101 99 100 101 99 160"))!;
        Assert.Equal(["above the upper limit", "a jump from the test before it"], chart.Signals.Where(s => s.Index == 12).Select(s => s.Why));
        var shift = ControlChart.Of(List("100 101 99 102 98 101 99 100 120 121 122 121 120 122 121 120"))!;
        Assert.Contains((7, "8 in a row below the mean"), shift.Signals);
        Assert.Contains((15, "8 in a row above the mean"), shift.Signals);
        Assert.Null(ControlChart.Of(List("1 2 3 4 5 6 7")));
    }

    [Fact]
    public void A_chart_in_other_units_has_the_same_signals() => Gen.Int[3000, 7000].Array[8, 40].Sample(values =>
    {
        var psi = ControlChart.Of([.. values.Select(v => (decimal)v)])!;
        var other = ControlChart.Of([.. values.Select(v => v * 0.5m)])!;
        Assert.Equal(psi.Signals, other.Signals);
    });

    [Fact]
    [OutsideCheck("Ranges of pairs 120 140 130 160 120 160 50 120 150 90, mean of tests 5,236.0 psi", "mean range 124.0, within-test 109.9 psi, 2.10 %: excellent", "ACI 214R-11, within-test variation", SourceMark.Memory, Tolerance = "0.05 psi, 0.005 %")]
    public void Within_test_variation_of_pairs()
    {
        var within = ControlClasses.WithinTestPsi(List("120 140 130 160 120 160 50 120 150 90"), 2)!.Value;
        Assert.Equal((109.9m, 2.10m), (decimal.Round(within, 1), decimal.Round(within / 5236 * 100, 2)));
        Assert.Equal(ControlClass.Excellent, ControlClasses.WithinTest(within / 5236 * 100));
        Assert.Null(ControlClasses.WithinTestPsi([], 2));
        Assert.Null(ControlClasses.WithinTestPsi([1], 6));
    }

    [Theory]
    [InlineData(true, "2.99 3 4 5 6 6.01", "Excellent VeryGood VeryGood Good Fair Poor")]
    [InlineData(false, "1.99 2 3 4 5 5.01", "Excellent VeryGood VeryGood Good Fair Poor")]
    [OutsideCheck("Classes of within-test variation, field 3, 4, 5, 6 % and laboratory 2, 3, 4, 5 %", "excellent, very good, good, fair, poor", "ACI 214R-11, Table 4.3", SourceMark.Memory)]
    public void Classes_of_within_test_variation(bool field, string pct, string classes) => Assert.Equal(classes, string.Join(' ', List(pct).Select(p => ControlClasses.WithinTest(p, field))));

    [Theory]
    [InlineData(5000, true, "399 400 500 600 700 701")]
    [InlineData(5000, false, "199 200 250 300 350 351")]
    [OutsideCheck("Classes of overall deviation up to 5,000 psi: field 400, 500, 600, 700 psi; laboratory 200, 250, 300, 350 psi", "excellent, very good, good, fair, poor", "ACI 214R-11, Table 4.3", SourceMark.Memory)]
    public void Classes_of_overall_deviation(int design, bool field, string deviations) =>
        Assert.Equal("Excellent VeryGood VeryGood Good Fair Poor", string.Join(' ', List(deviations).Select(s => ControlClasses.Overall(Spread(5500, s), design, field))));

    [Theory]
    [InlineData(true, "6.9 7 9 11 14 14.1")]
    [InlineData(false, "3.4 3.5 4.5 5.5 7 7.1")]
    [OutsideCheck("Classes of overall variation above 5,000 psi: field 7, 9, 11, 14 %; laboratory 3.5, 4.5, 5.5, 7 %", "excellent, very good, good, fair, poor", "ACI 214R-11, Table 4.4", SourceMark.Memory)]
    public void Classes_of_overall_variation(bool field, string pct) =>
        Assert.Equal("Excellent VeryGood VeryGood Good Fair Poor", string.Join(' ', List(pct).Select(v => ControlClasses.Overall(Spread(6000, 60 * v), 6000, field))));

    [Fact]
    public void One_test_has_no_class() => Assert.Null(ControlClasses.Overall([5000], 5000));

    // Three values with exactly this mean and deviation.
    private static decimal[] Spread(decimal mean, decimal s) => [mean - s, mean, mean + s];

    private static readonly IReadOnlyList<decimal> Fifteen = List("41.2 39.5 44.1 42.7 38.9 43.3 40.6 45.2 41.8 39.1 42.2 43.9 40.3 44.6 41.0");

    [Fact]
    [OutsideCheck("EN 206, 15 results at f_ck 35, sigma 2.5 MPa: mean and criterion", "41.89 against 38.70 MPa: conforms", "EN 206, continuous production", SourceMark.Memory, Tolerance = "0.005 MPa")]
    [OutsideCheck("The same results: standard deviation against 1.575 to 3.425 MPa", "2.033 MPa: sigma is kept", "EN 206, 0.63 and 1.37 sigma", SourceMark.Published, Tolerance = "0.0005 MPa")]
    [OutsideCheck("The same results: 0.886 times the mean moving range", "2.886 MPa", "guidance on EN 206-1 (2001)", SourceMark.Published, Tolerance = "0.0005 MPa")]
    public void Fifteen_results_by_the_European_rule()
    {
        Assert.Equal((41.89m, 2.033m, 2.886m), (decimal.Round(Fifteen.Average(), 2), decimal.Round(Statistics.StandardDeviation(Fifteen)!.Value, 3), decimal.Round(En206.SigmaFromRanges(Fifteen)!.Value, 3)));
        Assert.Equal(38.70m, 35 + En206.Factor * 2.5m);
        Assert.True(En206.Continuous(Fifteen, 35, 2.5m));
        Assert.True(En206.SigmaKept(Fifteen, 2.5m));
        Assert.False(En206.SigmaKept(Fifteen, 4m));
        Assert.False(En206.Continuous([.. Fifteen.Skip(1), 30.9m], 35, 2.5m));
    }

    [Theory]
    [InlineData("39 39 39", true)]
    [InlineData("39 39 38.9", false)]
    [InlineData("43 43 31", true)]
    [InlineData("44 44 30.9", false)]
    [OutsideCheck("EN 206, three results at f_ck 35 MPa", "mean at least 39, each at least 31 MPa", "EN 206, initial production", SourceMark.Memory)]
    public void Three_results_by_the_European_rule(string results, bool conforms)
    {
        Assert.Equal(conforms, En206.Initial(List(results), 35));
        Assert.Null(En206.Initial([40], 35));
        Assert.Null(En206.Continuous([40], 35, 2));
        Assert.Null(En206.SigmaKept([40], 2));
        Assert.Null(En206.SigmaFromRanges([40]));
    }
}
