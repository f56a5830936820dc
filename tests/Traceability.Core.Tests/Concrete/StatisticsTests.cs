using System.Globalization;
using CsCheck;
using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using static Traceability.Core.Tests.Concrete.Numbers;

namespace Traceability.Core.Tests.Concrete;

public sealed class StatisticsTests
{
    // The certified values have 15 digits.
    private static void Certified(IReadOnlyList<decimal> data, string mean, string s)
    {
        Assert.Equal(D(mean), decimal.Round(data.Average(), 12));
        var certified = D(s);
        Assert.True(Math.Abs(Statistics.StandardDeviation(data)!.Value - certified) <= certified * 1e-14m);
    }

    [Fact]
    [OutsideCheck("NumAcc1: mean and standard deviation of 10000001, 10000003, 10000002", "10000002 and 1", "NIST Statistical Reference Datasets, univariate, NumAcc1", SourceMark.Published)]
    public void NumAcc1() => Certified(List("10000001 10000003 10000002"), "10000002", "1");

    [Fact]
    [OutsideCheck("NumAcc2: 1.2 and 500 pairs of 1.1 and 1.3", "1.2 and 0.1", "NIST Statistical Reference Datasets, univariate, NumAcc2", SourceMark.Published)]
    public void NumAcc2() => Certified(Pairs(1.2m, 1.1m, 1.3m), "1.2", "0.1");

    [Fact]
    [OutsideCheck("NumAcc3: 1000000.2 and 500 pairs of 1000000.1 and 1000000.3", "1000000.2 and 0.1", "NIST Statistical Reference Datasets, univariate, NumAcc3", SourceMark.Published)]
    public void NumAcc3() => Certified(Pairs(1000000.2m, 1000000.1m, 1000000.3m), "1000000.2", "0.1");

    [Fact]
    [OutsideCheck("NumAcc4: 10000000.2 and 500 pairs of 10000000.1 and 10000000.3", "10000000.2 and 0.1", "NIST Statistical Reference Datasets, univariate, NumAcc4", SourceMark.Published)]
    public void NumAcc4() => Certified(Pairs(10000000.2m, 10000000.1m, 10000000.3m), "10000000.2", "0.1");

    private static IReadOnlyList<decimal> Pairs(decimal first, decimal low, decimal high) => [first, .. Enumerable.Repeat((decimal[])[low, high], 500).SelectMany(p => p)];

    [Fact]
    [OutsideCheck("Mavro: 50 transmittances of a filter", "2.001856 and 0.000429123454003053", "NIST Statistical Reference Datasets, univariate, Mavro", SourceMark.Published, Tolerance = "1e-14 of the value")]
    public void Mavro() => Certified([.. List("""
        180 170 180 190 180 170 150 140 150 150 170 180 180 190 190 210 200 160 140 130 130 150 150 160 150
        140 130 140 150 140 150 160 150 160 190 200 200 210 220 230 240 250 270 260 260 260 270 260 250 240
        """).Select(v => 2 + v / 100000)], "2.001856", "0.000429123454003053");

    [Fact]
    [OutsideCheck("Lew: 200 deflections of a steel-concrete beam", "-177.435 and 277.332168044316", "NIST Statistical Reference Datasets, univariate, Lew", SourceMark.Published, Tolerance = "1e-14 of the value")]
    public void Lew() => Certified(List("""
        -213 -564 -35 -15 141 115 -420 -360 203 -338 -431 194 -220 -513 154 -125 -559 92 -21 -579
        -52 99 -543 -175 162 -457 -346 204 -300 -474 164 -107 -572 -8 83 -541 -224 180 -420 -374
        201 -236 -531 83 27 -564 -112 131 -507 -254 199 -311 -495 143 -46 -579 -90 136 -472 -338
        202 -287 -477 169 -124 -568 17 48 -568 -135 162 -430 -422 172 -74 -577 -13 92 -534 -243
        194 -355 -465 156 -81 -578 -64 139 -449 -384 193 -198 -538 110 -44 -577 -6 66 -552 -164
        161 -460 -344 205 -281 -504 134 -28 -576 -118 156 -437 -381 200 -220 -540 83 11 -568 -160
        172 -414 -408 188 -125 -572 -32 139 -492 -321 205 -262 -504 142 -83 -574 0 48 -571 -106
        137 -501 -266 190 -391 -406 194 -186 -553 83 -13 -577 -49 103 -515 -280 201 300 -506 131
        -45 -578 -80 138 -462 -361 201 -211 -554 32 74 -533 -235 187 -372 -442 182 -147 -566 25
        68 -535 -244 194 -351 -463 174 -125 -570 15 72 -550 -190 172 -424 -385 198 -218 -536 96
        """), "-177.435", "277.332168044316");

    [Fact]
    [OutsideCheck("Michelso: 100 measurements of the speed of light, from the data set morley of R 4.2.2", "299.8524 and 0.0790105478190518", "NIST Statistical Reference Datasets, univariate, Michelso", SourceMark.Published, Tolerance = "1e-14 of the value")]
    public void Michelso() => Certified([.. List("""
        850 740 900 1070 930 850 950 980 980 880 1000 980 930 650 760 810 1000 1000 960 960 960 940 960 940 880
        800 850 880 900 840 830 790 810 880 880 830 800 790 760 800 880 880 880 860 720 720 620 860 970 950
        880 910 850 870 840 840 850 840 840 840 890 810 810 820 800 770 760 740 750 760 910 920 890 860 880
        720 840 850 850 780 890 840 780 810 760 810 790 810 820 850 870 870 810 740 810 940 950 800 810 870
        """).Select(v => 299 + v / 1000)], "299.8524", "0.0790105478190518");

    [Fact]
    [OutsideCheck("Norris: ozone monitors, a line through 36 points", "intercept -0.262323073774029, slope 1.00211681802045, residual deviation 0.884796396144373", "NIST Statistical Reference Datasets, linear regression, Norris", SourceMark.Published, Tolerance = "1e-12 of the value")]
    public void Norris()
    {
        var line = Statistics.Fit(NorrisData.Points)!;
        Assert.Equal((-0.262323073774m, 1.002116818020m, 0.884796396144m), (decimal.Round(line.Intercept, 12), decimal.Round(line.Slope, 12), decimal.Round(line.ResidualDeviation!.Value, 12)));
    }

    [Fact]
    public void Too_few_values_have_no_spread_and_no_line()
    {
        Assert.Null(Statistics.StandardDeviation([1]));
        Assert.Null(Statistics.VariationPct([0, 0]));
        Assert.Empty(Statistics.MovingRanges([]));
        Assert.Null(Statistics.Fit([(1, 1)]));
        Assert.Null(Statistics.Fit([(1, 1), (1, 2)]));
        Assert.Null(Statistics.Fit([(1, 1), (2, 2)])!.ResidualDeviation);
    }

    [Fact]
    public void A_spread_does_not_depend_on_order_and_scales_with_its_unit() => Gen.Int[-9999, 9999].Array[2, 50].Sample(values =>
    {
        var data = values.Select(v => (decimal)v).ToList();
        var s = Statistics.StandardDeviation(data)!.Value;
        Assert.Equal(s, Statistics.StandardDeviation([.. data.AsEnumerable().Reverse()])!.Value, 18);
        Assert.Equal(s / 8, Statistics.StandardDeviation([.. data.Select(d => d / 8)])!.Value, 18);
    });

    [Theory]
    [InlineData("1", "2.71828182845904523536")]
    [InlineData("-3.7", "0.0247235264703393893")]
    [InlineData("25.25", "92456120875.2457957")]
    [InlineData("0", "1")]
    [OutsideCheck("e to the powers 1, -3.7 and 25.25", "2.71828182845904523536, 0.02472352647033939, 92456120875.2458", "IEEE 754 library of R 4.2.2, exp", SourceMark.Published, Tolerance = "15 digits")]
    public void The_exponential_is_that_of_any_table(string power, string value) =>
        Assert.True(Math.Abs(DecimalMath.Exp(D(power)) / D(value) - 1) < 1e-14m, DecimalMath.Exp(D(power)).ToString(CultureInfo.InvariantCulture));

    [Theory]
    [InlineData("10", "2.30258509299404568402")]
    [InlineData("0.0123", "-4.39815601660377")]
    [InlineData("98765.4321", "11.5005029449842")]
    [OutsideCheck("Natural logarithm of 10, 0.0123 and 98765.4321", "2.30258509299404568, -4.39815601660377, 11.5005029449842", "IEEE 754 library of R 4.2.2, log", SourceMark.Published, Tolerance = "15 digits")]
    public void The_logarithm_is_that_of_any_table(string of, string value) => Assert.True(Math.Abs(DecimalMath.Ln(D(of)) / D(value) - 1) < 1e-14m);

    [Fact]
    public void Logarithm_and_root_undo_their_inverse() => Gen.Int[-20_000, 20_000].Sample(n =>
    {
        var power = n / 1000m;
        Assert.Equal(power, DecimalMath.Ln(DecimalMath.Exp(power)), 15);
        Assert.Equal(Math.Abs(power), DecimalMath.Sqrt(power * power), 20);
    });

    [Fact]
    public void What_has_no_root_logarithm_or_power_is_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => DecimalMath.Sqrt(-1));
        Assert.Throws<ArgumentOutOfRangeException>(() => DecimalMath.Ln(0));
        Assert.Throws<ArgumentOutOfRangeException>(() => DecimalMath.Exp(61));
        Assert.Throws<ArgumentOutOfRangeException>(() => DecimalMath.Exp(-61));
        Assert.Equal(0, DecimalMath.Sqrt(0));
    }
}

/// <summary>Norris of the NIST Statistical Reference Datasets: y is the customer's ozone monitor, x the institute's.</summary>
internal static class NorrisData
{
    public static readonly IReadOnlyList<(decimal X, decimal Y)> Points =
    [
        (0.2m, 0.1m), (337.4m, 338.8m), (118.2m, 118.1m), (884.6m, 888.0m), (10.1m, 9.2m), (226.5m, 228.1m), (666.3m, 668.5m), (996.3m, 998.5m), (448.6m, 449.1m),
        (777.0m, 778.9m), (558.2m, 559.2m), (0.4m, 0.3m), (0.6m, 0.1m), (775.5m, 778.1m), (666.9m, 668.8m), (338.0m, 339.3m), (447.5m, 448.9m), (11.6m, 10.8m),
        (556.0m, 557.7m), (228.1m, 228.3m), (995.8m, 998.0m), (887.6m, 888.8m), (120.2m, 119.6m), (0.3m, 0.3m), (0.3m, 0.6m), (556.8m, 557.6m), (339.1m, 339.3m),
        (887.2m, 888.0m), (999.0m, 998.5m), (779.0m, 778.9m), (11.1m, 10.2m), (118.3m, 117.6m), (229.2m, 228.9m), (669.1m, 668.4m), (448.9m, 449.2m), (0.5m, 0.2m),
    ];
}
