using CsCheck;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Tests.Quantities;

public sealed class SiTests
{
    [Fact]
    [OutsideCheck("Pound-force, pound-force per square inch and per square foot, pound per cubic foot, foot-pound-force, gallon", "4.448222 N, 6.894757 kPa, 47.88026 Pa, 16.01846 kg/m3, 1.355818 N m, 3.785412 L", "NIST Special Publication 811, 2008, appendix B.8", SourceMark.Memory, Tolerance = "last printed digit")]
    public void Derived_units_follow_from_the_defined_ones()
    {
        Assert.Equal(4.448222m, decimal.Round(Si.NewtonPerLbf, 6));
        Assert.Equal(6.894757m, decimal.Round(Si.MpaPerPsi * 1000, 6));
        Assert.Equal(47.88026m, decimal.Round(Si.KpaPerPsf * 1000, 5));
        Assert.Equal(16.01846m, decimal.Round(Si.KgM3PerLbFt3, 5));
        Assert.Equal(1.355818m, decimal.Round(Si.NmPerFtLbf, 6));
        Assert.Equal(3.785412m, decimal.Round(Si.LitrePerUsGallon, 6));
    }

    [Theory]
    [InlineData(32, 0)]
    [InlineData(212, 100)]
    [InlineData(-40, -40)]
    public void The_scales_of_temperature_meet(int fahrenheit, int celsius)
    {
        Assert.Equal(celsius, Si.Celsius(fahrenheit));
        Assert.Equal(fahrenheit, Si.Fahrenheit(celsius));
    }

    [Theory]
    [InlineData("2", "1.41421356237309504880")]
    [InlineData("0.0004", "0.02")]
    [InlineData("144", "12")]
    [InlineData("0", "0")]
    public void Roots_are_right_to_twenty_digits(string value, string root) =>
        Assert.Equal(decimal.Parse(root), decimal.Round(Exact.Sqrt(decimal.Parse(value)), 20));

    [Fact]
    public void A_root_squared_is_its_number() =>
        Gen.Decimal[0.000001m, 1_000_000m].Sample(x => Math.Abs(Exact.Sqrt(x) * Exact.Sqrt(x) / x - 1) < 1e-20m);

    [Fact]
    public void The_power_of_two_and_a_half_is_the_square_times_the_root()
    {
        Assert.Equal(32m, Exact.Power25(4));
        Assert.Equal(0m, Exact.Power25(0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Exact.Power25(-1));
    }

    [Fact]
    public void A_band_holds_its_ends_and_a_free_end_holds_everything()
    {
        var band = Band.Around(10, 1, 2);
        Assert.Equal((true, true, false, false), (band.Holds(9), band.Holds(12), band.Holds(8.9999m), band.Holds(12.0001m)));
        Assert.True(new Band(null, 5).Holds(-1000));
        Assert.True(new Band(5, null).Holds(1000));
        Assert.Equal(new Band(98, 102), Band.Percent(100, 2));
    }
}
