using Traceability.Core.Concrete;
using Traceability.Core.Profiles;

namespace Traceability.Core.Tests.Concrete;

public sealed class StrengthTests
{
    [Fact]
    [OutsideCheck("6 x 12 in cylinder, 113,100 lbf", "4,000 psi", "published examination question on ASTM C39/C39M", SourceMark.Published)]
    public void A_six_by_twelve_cylinder() => Assert.Equal(4000m, Strength.Psi(113100, 6, 6, 12, RoundingRule.HalfEven));

    [Fact]
    [OutsideCheck("4 x 8 in cylinder, diameters 4.02 and 4.00 in, 78,450 lbf", "area 12.6293 in2, 6,210 psi", "ASTM C39/C39M and AASHTO T 22, mean diameter to 0.01 in, strength to 10 psi", SourceMark.Published, Tolerance = "0.00005 in2")]
    public void A_four_by_eight_cylinder_of_two_diameters()
    {
        Assert.Equal(12.6293m, decimal.Round(Strength.AreaIn2(4.01m), 4));
        Assert.Equal(6210m, Strength.Psi(78450, 4.02m, 4.00m, 8, RoundingRule.HalfEven));
    }

    [Theory]
    [InlineData("4.10", "4.00", "2.5")]
    [InlineData("4.08", "4.00", "2")]
    [OutsideCheck("Diameters 4.10 and 4.00 in", "2.5 % apart: not valid above 2 %", "AASHTO T 22", SourceMark.Published)]
    public void Diameters_are_compared_in_percent_of_the_smaller(string first, string second, string apart) =>
        Assert.Equal(decimal.Parse(apart), Strength.DiameterDifferencePct(decimal.Parse(first), decimal.Parse(second)));

    [Theory]
    [InlineData(RoundingRule.HalfEven, "4.00", "12.566")]
    [InlineData(RoundingRule.HalfUp, "4.01", "12.629")]
    [OutsideCheck("Mean of diameters 4.01 and 4.00 in by the two rules", "4.00 in (12.566 in2) half to even, 4.01 in (12.629 in2) half up", "ASTM E29", SourceMark.Published, Tolerance = "0.0005 in2")]
    public void A_tie_in_the_mean_diameter_follows_the_rounding_rule(RoundingRule rule, string mean, string area)
    {
        var diameter = Strength.MeanDiameterIn(4.01m, 4.00m, rule);
        Assert.Equal(decimal.Parse(mean), diameter);
        Assert.Equal(decimal.Parse(area), decimal.Round(Strength.AreaIn2(diameter), 3));
    }

    [Theory]
    [InlineData("5.40", 61200, 5440)]
    [InlineData("6.475", 61200, 5580)]
    [InlineData("6.50", 61200, 5690)]
    [InlineData("3.70", 52000, 4210)]
    [OutsideCheck("Cores 3.70 in in diameter, length 5.40, 6.475, 6.50 in with 61,200 lbf, and 3.70 in with 52,000 lbf", "5,440; 5,580; 5,690; 4,210 psi", "ASTM C39/C39M, section 8, factors for length to diameter", SourceMark.Memory)]
    public void Short_specimens_are_corrected_for_their_length(string length, int load, int expected) =>
        Assert.Equal(expected, Strength.Psi(load, 3.70m, 3.70m, decimal.Parse(length), RoundingRule.HalfEven));

    [Fact]
    [OutsideCheck("Factor for a core 3.70 x 5.40 in, length to diameter 1.4595", "0.9551", "ASTM C39/C39M, section 8", SourceMark.Memory, Tolerance = "0.00005")]
    public void Between_the_points_of_the_table_the_factor_goes_by_straight_line() =>
        Assert.Equal(0.9551m, decimal.Round(Strength.LengthFactor(5.40m, 3.70m)!.Value, 4));

    [Fact]
    public void A_specimen_shorter_than_its_diameter_has_no_strength()
    {
        Assert.Null(Strength.LengthFactor(3.69m, 3.70m));
        Assert.Null(Strength.Psi(52000, 3.70m, 3.70m, 3.69m, RoundingRule.HalfEven));
    }

    [Theory]
    [InlineData("6x12", true, 7.04, 8.0, "5210,5590")]
    [InlineData("6x12", false, 7.04, 6.6, "5210,5590")]
    [InlineData("4x8", false, 10.38, 10.6, "5010,5320,5560")]
    [InlineData("4x8", false, 11.11, 10.6, "5010,5320,5600")]
    [OutsideCheck("Range of companions: 5,210 and 5,590; 5,010, 5,320, 5,560; 5,010, 5,320, 5,600 psi", "7.04 % (8.0 field, 6.6 laboratory), 10.38 and 11.11 % (10.6)", "ASTM C39/C39M, precision", SourceMark.Memory, Tolerance = "0.005 %")]
    public void The_range_of_companions_is_a_share_of_their_mean(string size, bool field, double range, double acceptable, string strengths)
    {
        var set = strengths.Split(',').Select(decimal.Parse).ToList();
        Assert.Equal((decimal)range, decimal.Round(Strength.RangePct(set), 2));
        Assert.Equal((decimal)acceptable, Strength.AcceptableRangePct(size, field, set.Count));
    }

    [Fact]
    [OutsideCheck("Acceptable range of 4 x 8 in cylinders made in the field", "none stated", "ASTM C39/C39M, precision", SourceMark.Memory)]
    public void Where_the_standard_states_no_range_none_is_invented() => Assert.Null(Strength.AcceptableRangePct("4x8", true, 3));

    [Theory]
    [InlineData("2026-03-31T06:00:00-04:00", true)]
    [InlineData("2026-03-31T06:30:00-04:00", true)]
    [InlineData("2026-03-31T06:30:01-04:00", false)]
    [InlineData("2026-03-29T14:30:00-04:00", true)]
    [InlineData("2026-03-29T14:29:59-04:00", false)]
    [OutsideCheck("28 d of a cylinder cast 2026-03-02T09:30-05:00, over a change to summer time", "2026-03-29T14:30-04:00 to 2026-03-31T06:30-04:00", "ASTM C39/C39M, 28 d +-20 h", SourceMark.Published)]
    public void The_age_window_counts_elapsed_hours_over_a_change_of_clocks(string broken, bool inside)
    {
        var cast = DateTimeOffset.Parse("2026-03-02T09:30:00-05:00", System.Globalization.CultureInfo.InvariantCulture);
        Assert.Equal(inside, TestAge.IsAt(cast, DateTimeOffset.Parse(broken, System.Globalization.CultureInfo.InvariantCulture), 28 * 24, 20));
    }

    [Fact]
    [OutsideCheck("Initial cure from 10:00 on day 0 to 10:30 on day 2", "48.5 h, over 48 h", "ASTM C31/C31M, 10.1.2", SourceMark.Published)]
    public void Hours_are_elapsed_time()
    {
        var from = new DateTimeOffset(2026, 3, 2, 10, 0, 0, TimeSpan.FromHours(-5));
        Assert.Equal(48.5m, TestAge.Hours(from, from.AddDays(2).AddMinutes(30)));
    }
}
