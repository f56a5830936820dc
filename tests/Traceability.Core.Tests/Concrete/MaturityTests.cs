using CsCheck;
using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using static Traceability.Core.Tests.Concrete.Numbers;

namespace Traceability.Core.Tests.Concrete;

public sealed class MaturityTests
{
    private static readonly IReadOnlyList<CureReading> Day = Celsius("21 22 26 33 42 50 55 57 56 53 49 45 41", 2);

    private static IReadOnlyList<CureReading> Celsius(string temperatures, decimal everyHours) =>
        [.. List(temperatures).Select((c, i) => new CureReading(i * everyHours, c * 9 / 5 + 32))];

    [Theory]
    [InlineData("0", 1038)]
    [InlineData("2.5", 978)]
    [InlineData("-10", 1278)]
    [OutsideCheck("21 22 26 33 42 50 55 57 56 53 49 45 41 C every 2 h: temperature-time factor for datum 0, 2.5 and -10 C", "1038, 978, 1278 C h", "ASTM C1074, temperature-time factor", SourceMark.Memory, Tolerance = "0.5 C h")]
    public void The_temperature_time_factor_of_a_day(string datum, int expected) => Assert.Equal(expected, decimal.Round(Maturity.TemperatureTime(Day, D(datum))));

    [Theory]
    [InlineData("5000", "20", "96.09")]
    [InlineData("5000", "23", "80.84")]
    [InlineData("4991.6", "20", "95.85")]
    [InlineData("4700", "20", "87.78")]
    [OutsideCheck("The same day: equivalent age for Q 5,000 K at 20 and 23 C, Q 4,991.6 and 4,700 K at 20 C", "96.09, 80.84, 95.85, 87.78 h", "ASTM C1074, equivalent age", SourceMark.Memory, Tolerance = "0.005 h")]
    public void The_equivalent_age_of_a_day(string activation, string reference, string expected) =>
        Assert.Equal(D(expected), decimal.Round(Maturity.EquivalentAgeHours(Day, D(activation), D(reference)), 2));

    [Theory]
    [InlineData("40 40", "20", "2.972")]
    [InlineData("40 40", "23", "2.501")]
    [InlineData("10 10", "23", "0.461")]
    [OutsideCheck("One hour at 40 C in hours at 20 and 23 C, one hour at 10 C in hours at 23 C, Q 5,000 K", "2.972, 2.501, 0.4606 h", "ASTM C1074, equivalent age", SourceMark.Memory, Tolerance = "0.0005 h")]
    public void An_hour_at_another_temperature(string temperatures, string reference, string expected) =>
        Assert.Equal(D(expected), decimal.Round(Maturity.EquivalentAgeHours(Celsius(temperatures, 1), Maturity.ActivationK, D(reference)), 3));

    [Fact]
    [OutsideCheck("The same day: peak, fastest rise and cooling", "134.6 F, 8.1 F/h, 3.6 F/h", "ASTM C1074 record, every interval", SourceMark.Memory, Tolerance = "0.05 F/h")]
    public void The_curve_of_the_day_in_Fahrenheit() =>
        Assert.Equal((134.6m, 8.1m, 3.6m, 69.8m), (Curing.Peak(Day), Curing.FastestRise(Day), Curing.FastestCooling(Day), Curing.Lowest(Day)));

    [Fact]
    [OutsideCheck("Reference temperature of the equivalent age, older and newer editions", "20 and 23 C", "ASTM C1074", SourceMark.Memory)]
    public void The_edition_sets_the_reference_temperature()
    {
        Assert.Equal((20m, 23m), (Maturity.OlderReferenceC, Maturity.NewerReferenceC));
        Assert.Equal(1m, decimal.Round(Maturity.EquivalentAgeHours(Celsius("23 23", 1), Maturity.ActivationK, Maturity.NewerReferenceC), 10));
    }

    [Fact]
    public void An_interval_at_or_below_the_datum_adds_nothing()
    {
        Assert.Equal(0, Maturity.TemperatureTime(Celsius("-5 0 -20", 1), 0));
        Assert.Equal(0, Maturity.TemperatureTime([new(0, 70)], 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Maturity.EquivalentAgeHours(Day, 0, 20));
        Assert.Throws<ArgumentOutOfRangeException>(() => Maturity.EquivalentAgeHours(Celsius("-280 -280", 1), 5000, 20));
    }

    [Fact]
    public void Warmer_concrete_is_never_less_mature() => Gen.Select(Gen.Int[-5, 70].Array[2, 20], Gen.Int[0, 19], Gen.Int[1, 20]).Sample((temperatures, which, more) =>
    {
        var cold = Celsius(string.Join(' ', temperatures), 1);
        temperatures[which % temperatures.Length] += more;
        var warm = Celsius(string.Join(' ', temperatures), 1);
        Assert.True(Maturity.TemperatureTime(warm, 0) >= Maturity.TemperatureTime(cold, 0));
        Assert.True(Maturity.EquivalentAgeHours(warm, 5000, 23) > Maturity.EquivalentAgeHours(cold, 5000, 23));
    });

    private static readonly (decimal, decimal)[] Tests = [(480, 1980), (1500, 3450), (3600, 4480), (7200, 5290), (14400, 6010)];

    [Fact]
    [OutsideCheck("Strength on the logarithm of maturity: (480, 1980) (1500, 3450) (3600, 4480) (7200, 5290) (14400, 6010), fitted with R 4.2.2", "intercept -5290.3246, slope 1187.6062, residual deviation 70.6605 psi; 2913.368, 3736.554, 4824.747 psi at 1000, 2000, 5000; 4,000 psi at 2496.7167", "R 4.2.2, lm", SourceMark.Published, Tolerance = "0.0005")]
    public void Strength_grows_with_the_logarithm_of_maturity()
    {
        var relation = StrengthMaturity.Fit(Tests)!;
        Assert.Equal((-5290.3246m, 1187.6062m, 70.6605m), (decimal.Round(relation.OnLogarithm.Intercept, 4), decimal.Round(relation.OnLogarithm.Slope, 4), decimal.Round(relation.OnLogarithm.ResidualDeviation!.Value, 4)));
        Assert.Equal(List("2913.368 3736.554 4824.747"), new[] { 1000m, 2000m, 5000m }.Select(m => decimal.Round(relation.PsiAt(m)!.Value, 3)));
        Assert.Equal(2496.7167m, decimal.Round(relation.MaturityFor(4000)!.Value, 4));
    }

    [Fact]
    public void A_relation_speaks_only_of_the_maturities_it_was_tested_at()
    {
        var relation = StrengthMaturity.Fit(Tests)!;
        Assert.Null(relation.PsiAt(479));
        Assert.Null(relation.PsiAt(14401));
        Assert.Null(relation.MaturityFor(9000));
        Assert.Null(relation.MaturityFor(9_000_000));
        Assert.Null(relation.Verifies(100, 1000));
        Assert.Null(StrengthMaturity.Fit(Tests[..4]));
        Assert.Null(StrengthMaturity.Fit([.. Tests.Select((t, i) => (t.Item1, 5000m - i))]));
    }

    [Fact]
    public void The_strip_time_is_told_from_the_maturity_still_needed()
    {
        var relation = StrengthMaturity.Fit(Tests)!;
        // 2496.7 C h are needed for 4,000 psi; 1,000 are there and every hour at 40 C adds 40.
        Assert.Equal(37.42m, decimal.Round(relation.HoursUntil(4000, 1000, 40, 0)!.Value, 2));
        Assert.Equal(0, relation.HoursUntil(4000, 2500, 40, 0));
        Assert.Null(relation.HoursUntil(4000, 1000, 0, 0));
        Assert.Null(relation.HoursUntil(20000, 1000, 40, 0));
    }

    [Fact]
    [OutsideCheck("Verification test of a relation", "within 10 % of it", "ASTM C1074, verification", SourceMark.Memory)]
    public void A_verification_turns_exactly_at_its_share()
    {
        var relation = StrengthMaturity.Fit(Tests)!;
        var expected = relation.PsiAt(2000)!.Value;
        Assert.True(relation.Verifies(2000, expected * 1.1m));
        Assert.False(relation.Verifies(2000, expected * 1.1m + 0.01m));
        Assert.False(relation.Verifies(2000, expected * 0.9m - 0.01m));
    }

    [Fact]
    public void The_preset_ends_where_the_rise_begins()
    {
        CureReading[] record = [new(0, 70), new(3, 74), new(4, 100), new(4.5m, 121)];
        Assert.Equal(3m, Curing.PresetHours(record, 10));
        Assert.Null(Curing.PresetHours(record, 100));
        Assert.Null(Curing.PresetHours([], 10));
    }
}
