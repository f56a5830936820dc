using CsCheck;
using Traceability.Core.Judging.Acceptance;
using Traceability.Core.Profiles;
using Traceability.Core.Tests.Concrete;
using Traceability.Core.Tests.Judging;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Strength;

namespace Traceability.Core.Tests.EarlyBreaks;

public sealed class EarlyWarningTests
{
    /// <summary>7 and 28 days, MPa: the 23 superplasticized mixes of I-C. Yeh, Concrete Compressive Strength, UCI Machine Learning Repository, CC BY 4.0.</summary>
    private static readonly IReadOnlyList<(double Early, double Later)> Public = Pairs(
        "46.20 42.80 49.20 46.80 45.70 55.60 54.90 49.20 34.90 46.90 49.20 33.40 54.10 55.90 49.80 47.10 55.90 38.00 55.90 56.10 59.09 22.90 35.10",
        "61.09 59.80 60.29 61.80 56.70 68.30 66.90 60.29 50.70 56.40 60.29 55.50 68.50 71.30 74.70 52.20 71.30 67.70 71.30 66.00 74.50 71.30 49.90");

    private static readonly IReadOnlyList<(double Early, double Later)> Plant = Pairs(
        "3650 3460 3820 3750 4010 3770 3280 3550 4070 4040 3740 3600 3700 3590 3610 3640 3890 3590 3570 3530",
        "5990 5470 6130 6050 6190 5720 5500 5730 5930 6370 5780 5820 5540 5250 5790 5550 5870 5780 5450 5370");

    private static IReadOnlyList<(double, double)> Pairs(string early, string later) =>
        [.. Numbers.List(early).Zip(Numbers.List(later)).Select(p => ((double)p.First, (double)p.Second))];

    [Theory]
    [InlineData(30, 56.7321127712426, 43.7529554614755, 69.7112700810098, 0.4102971186)]
    [InlineData(40, 60.5812451602421, 48.3391249029931, 72.8233654174911, 0.2207548374)]
    [InlineData(50, 64.4303775492415, 52.3238931071883, 76.5368619912948, 0.0972224718)]
    [InlineData(60, 68.2795099382410, 55.6878104528706, 80.8712094236114, 0.0419380498)]
    [OutsideCheck("28-day strength from 7 days, 23 mixes of the public data: forecast, 90 % prediction interval and chance below 55 MPa at 30, 40, 50, 60 MPa", "e.g. at 40 MPa 60.5812, 48.3391 to 72.8234, 0.22075", "R 4.2.2, lm and predict, on I-C. Yeh, Concrete Compressive Strength, UCI Machine Learning Repository", SourceMark.Published, Tolerance = "1e-8")]
    public void Public_strengths_are_forecast_as_by_a_general_tool(double early, double expected, double lower, double upper, double chance) =>
        Equal(EarlyWarning.Of(Public, early, 55)!, expected, lower, upper, chance);

    [Theory]
    [InlineData(3000, 5015.82117125439, 4556.95917949166, 5474.68316301712, 0.9580487087)]
    [InlineData(3600, 5663.59504895622, 5299.27020407026, 6027.91989384218, 0.2231489045)]
    [InlineData(4200, 6311.36892665805, 5894.56841478215, 6728.16943853394, 0.0016842049)]
    [OutsideCheck("28-day strength of an invented plant from 20 pairs: forecast, 90 % interval and chance below 5,500 psi at 3,000, 3,600, 4,200 psi", "e.g. at 3,600 psi 5663.595, 5299.270 to 6027.920, 0.22315", "R 4.2.2, lm and predict", SourceMark.Published, Tolerance = "1e-8 of the value")]
    public void A_plants_strengths_are_forecast_as_by_a_general_tool(double early, double expected, double lower, double upper, double chance) =>
        Equal(EarlyWarning.Of(Plant, early, 5500)!, expected, lower, upper, chance);

    private static void Equal(Forecast forecast, double expected, double lower, double upper, double chance)
    {
        Assert.Equal(expected, forecast.Expected, expected * 1e-9);
        Assert.Equal(lower, forecast.Lower, lower * 1e-9);
        Assert.Equal(upper, forecast.Upper, upper * 1e-9);
        Assert.Equal(chance, forecast.Chance, 1e-9);
    }

    [Fact]
    [OutsideCheck("Norris through the statistics library: intercept and slope", "-0.262323073774029 and 1.00211681802045", "NIST Statistical Reference Datasets, linear regression, Norris", SourceMark.Published, Tolerance = "1e-12")]
    public void The_statistics_library_meets_the_certified_line()
    {
        List<(double, double)> norris = [.. NorrisData.Points.Select(p => ((double)p.X, (double)p.Y))];
        var intercept = EarlyWarning.Of(norris, 0, 0)!.Expected;
        Assert.Equal(-0.262323073774029, intercept, 1e-12);
        Assert.Equal(1.00211681802045, EarlyWarning.Of(norris, 1, 0)!.Expected - intercept, 1e-12);
    }

    [Fact]
    public void Below_fifteen_pairs_it_is_silent()
    {
        Assert.Null(EarlyWarning.Of([.. Plant.Take(EarlyWarning.FewestPairs - 1)], 3600, 5500));
        Assert.NotNull(EarlyWarning.Of([.. Plant.Take(EarlyWarning.FewestPairs)], 3600, 5500));
        Assert.Null(EarlyWarning.Of([.. Plant.Select(p => (3600.0, p.Later))], 3600, 5500));
    }

    [Fact]
    public void Pairs_on_a_line_leave_no_interval()
    {
        var forecast = EarlyWarning.Of([.. Enumerable.Range(0, 20).Select(i => (i * 1.0, i * 2.0))], 10, 21)!;
        Assert.Equal((20.0, 20.0), (Math.Round(forecast.Lower, 6), Math.Round(forecast.Upper, 6)));
        Assert.Equal(1, forecast.Chance, 6);
    }

    [Fact]
    public void A_forecast_does_not_depend_on_the_order_of_pairs_or_on_the_unit() => Gen.Int[2500, 4500].Sample(early =>
    {
        var psi = EarlyWarning.Of(Plant, early, 5500)!;
        var turned = EarlyWarning.Of([.. Plant.Reverse()], early, 5500)!;
        const double mpa = 0.00689475729316836;
        var si = EarlyWarning.Of([.. Plant.Select(p => (p.Early * mpa, p.Later * mpa))], early * mpa, 5500 * mpa)!;
        Assert.Equal(psi.Expected, turned.Expected, 1e-6);
        Assert.Equal(psi.Lower * mpa, si.Lower, 1e-6);
        Assert.Equal(psi.Chance, si.Chance, 1e-9);
    });

    [Fact]
    public void A_higher_early_strength_never_raises_the_chance_where_strength_grows() => Gen.Select(Gen.Double[3200, 4100], Gen.Double[1, 200]).Sample((early, more) =>
        Assert.True(EarlyWarning.Of(Plant, early + more, 5500)!.Expected > EarlyWarning.Of(Plant, early, 5500)!.Expected));

    [Fact]
    public void On_generated_history_the_interval_holds_as_many_as_it_states()
    {
        var random = new Random(20260302);
        double Normal() => Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
        var history = Enumerable.Range(0, 1000).Select(_ =>
        {
            var early = 3600 + 250 * Normal();
            return (early, 1450 + 1.15 * early + 220 * Normal());
        }).ToList();
        var test = EarlyWarning.Test(history);
        Assert.Equal(1000 - EarlyWarning.FewestPairs, test.Forecasts);
        // Two standard errors of a share of 0.90 in 985 are 0.019.
        Assert.InRange(test.Coverage!.Value, 0.88, 0.92);
    }

    [Fact]
    public void On_the_demonstrations_history_it_is_back_tested()
    {
        var story = PlantStory.RigidFrame(7, 60, new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5)));
        var entries = Traceability.Core.Dossiers.Assemble.Counted([.. story.Facts.Select((f, i) => UnitCase.Recorded(f.Event, i + 1))], PlantStory.Time);
        var series = StrengthSeries.Of(entries, new TestRule(28, 20, 3, 2, 2, RoundingRule.HalfEven));
        var pairs = series.Where(s => s.Psi is not null).SelectMany(s => s.Early.Where(e => e.Purpose == Traceability.Core.Events.CylinderPurpose.Ship).Select(e => ((double)e.Psi, (double)s.Psi!.Value))).ToList();
        var test = EarlyWarning.Test(pairs);
        Assert.Equal(pairs.Count - EarlyWarning.FewestPairs, test.Forecasts);
        Assert.InRange(test.Forecasts, 10, 60);
        Assert.InRange(test.Coverage!.Value, 0.80, 1.0);
        Assert.Null(EarlyWarning.Test([]).Coverage);
    }

    [Fact]
    public void Nothing_that_judges_decides_or_makes_packets_reads_a_forecast()
    {
        string[] places = ["src/Traceability.Core", "src/Traceability.Kiosk", "src/Traceability.Verifier", "src/Traceability.Service/Packets", "src/Traceability.Service/Decisions", "src/Traceability.Service/Assembling", "src/Traceability.Service/Units"];
        string[] names = ["Service.Strength", "EarlyWarning", "StrengthReader", "MixStrength"];
        var files = places.SelectMany(p => Directory.GetFiles(Repository.Path(p.Split('/')), "*.cs", SearchOption.AllDirectories)).Where(f => !f.Contains("/obj/", StringComparison.Ordinal)).ToList();
        Assert.True(files.Count > 100);
        Assert.Empty(from file in files let text = File.ReadAllText(file) from name in names where text.Contains(name, StringComparison.Ordinal) select $"{file} names {name}");
    }
}
