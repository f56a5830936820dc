using System.Globalization;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Tests.Quantities;

public sealed class RoundingTests
{
    private static decimal D(string text) => decimal.Parse(text, CultureInfo.InvariantCulture);

    [Theory]
    [InlineData("5.6750", 2, "5.68")]
    [InlineData("5.6850", 2, "5.68")]
    [InlineData("5.6852", 2, "5.69")]
    [InlineData("5.765", 2, "5.76")]
    [InlineData("5.755", 2, "5.76")]
    [InlineData("50.5", 0, "50")]
    [InlineData("51.5", 0, "52")]
    [InlineData("13.25", 1, "13.2")]
    [InlineData("13.35", 1, "13.4")]
    [InlineData("2350.5", 0, "2350")]
    [InlineData("2351.5", 0, "2352")]
    [InlineData("45.7500", 1, "45.8")]
    [InlineData("45.4500", 1, "45.4")]
    [InlineData("45.45001", 1, "45.5")]
    [OutsideCheck("Rounding method, exact halves to the even digit: fourteen printed examples from 5.6750 to 45.45001", "5.68, 5.68, 5.69, 5.76, 5.76, 50, 52, 13.2, 13.4, 2350, 2352, 45.8, 45.4, 45.5", "ASTM E29 / AASHTO R 11, examples of ATT-70 (Alberta) and of a United States field manual", SourceMark.Published)]
    public void Exact_halves_go_to_the_even_digit(string value, int digits, string expected) =>
        Assert.Equal(D(expected), Rounding.Round(D(value), digits, RoundingRule.HalfEven));

    [Theory]
    [InlineData("5.6850", 2, "5.69")]
    [InlineData("50.5", 0, "51")]
    [InlineData("13.25", 1, "13.3")]
    [InlineData("2350.5", 0, "2351")]
    [OutsideCheck("Rounding with exact halves up: 5.6850, 50.5, 13.25, 2350.5", "5.69, 51, 13.3, 2351", "Iowa DOT, Instructional Memorandum 202", SourceMark.Published)]
    public void Exact_halves_go_up_where_the_agency_says_so(string value, int digits, string expected) =>
        Assert.Equal(D(expected), Rounding.Round(D(value), digits, RoundingRule.HalfUp));

    [Theory]
    [InlineData("4", true)]
    [InlineData("4.0", false)]
    [OutsideCheck("Slump 4 1/4 against a limit printed \"4\" and one printed \"4.0\"", "passes, fails", "Iowa DOT, Instructional Memorandum 202", SourceMark.Published)]
    public void Values_are_compared_at_the_last_digit_the_limit_is_printed_with(string limit, bool passes) =>
        Assert.Equal(passes, Rounding.ForLimit(Reading.Parse("4 1/4").Value, Reading.Parse(limit), RoundingRule.HalfUp) <= Reading.Parse(limit).Value);

    [Theory]
    [InlineData("5125", RoundingRule.HalfEven, "5120")]
    [InlineData("5125", RoundingRule.HalfUp, "5130")]
    [InlineData("5135", RoundingRule.HalfEven, "5140")]
    [InlineData("5135", RoundingRule.HalfUp, "5140")]
    [OutsideCheck("Strengths to 10 psi: 5,125 and 5,135 psi, halves to even and halves up", "5,120 or 5,130; 5,140 both", "ASTM E29 and Iowa DOT, Instructional Memorandum 202", SourceMark.Published)]
    public void Strengths_are_rounded_to_ten_psi_by_the_rule(string value, RoundingRule rule, string expected) =>
        Assert.Equal(D(expected), Rounding.RoundTo(D(value), 10, rule));

    [Fact]
    public void Decimals_do_not_fall_into_the_binary_trap() =>
        Assert.Equal(2.68m, Rounding.Round(2.675m, 2, RoundingRule.HalfEven));

    [Fact]
    [OutsideCheck("A limit of 85 % met by 84.5 % and by 5,090 of 6,000 psi (84.8 %)", "84.5 % rounds to 84 by the even rule, 84.8 % to 85", "ACI TCM-20, 11.6.7 with ASTM E29", SourceMark.Published)]
    public void A_limit_printed_in_whole_percents_is_compared_in_whole_percents()
    {
        var limit = Reading.Parse("85");
        Assert.Equal(85m, Rounding.ForLimit(5090m / 6000m * 100, limit, RoundingRule.HalfEven));
        Assert.Equal(85m, Rounding.ForLimit(84.5m, limit, RoundingRule.HalfUp));
        Assert.True(Rounding.ForLimit(5090m / 6000m * 100, limit, RoundingRule.Absolute) < 85m);
    }

    [Fact]
    public void Truncation_drops_and_absolute_leaves()
    {
        Assert.Equal(5.68m, Rounding.Round(5.689m, 2, RoundingRule.Truncate));
        Assert.Equal(-5.68m, Rounding.Round(-5.689m, 2, RoundingRule.Truncate));
        Assert.Equal(5.689m, Rounding.Round(5.689m, 2, RoundingRule.Absolute));
        Assert.Equal(5125m, Rounding.RoundTo(5125m, 10, RoundingRule.Absolute));
    }

    [Theory]
    [InlineData("4", 0)]
    [InlineData("4.0", 1)]
    [InlineData("1.50", 2)]
    [InlineData("3/8", 3)]
    public void A_limits_digits_are_those_it_was_written_with(string limit, int digits) => Assert.Equal(digits, Rounding.DigitsOf(Reading.Parse(limit)));
}
