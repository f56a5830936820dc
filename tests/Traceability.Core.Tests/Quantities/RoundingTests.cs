using System.Globalization;
using CsCheck;
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

    [Theory]
    [InlineData("5.6750", 2, "5.68")]
    [InlineData("5.6852", 2, "5.69")]
    [InlineData("5.755", 2, "5.76")]
    [InlineData("51.5", 0, "52")]
    [InlineData("45.45001", 1, "45.5")]
    [OutsideCheck("Where both rules agree: 5.6750, 5.6852, 5.755, 51.5, 45.45001", "5.68, 5.69, 5.76, 52, 45.5 by both", "ASTM E29 and Iowa DOT, Instructional Memorandum 202", SourceMark.Published)]
    public void Only_an_exact_half_before_an_even_digit_parts_the_two_rules(string value, int digits, string expected)
    {
        Assert.Equal(D(expected), Rounding.Round(D(value), digits, RoundingRule.HalfEven));
        Assert.Equal(D(expected), Rounding.Round(D(value), digits, RoundingRule.HalfUp));
    }

    [Theory]
    [InlineData("5.678951", 2, "5.6789")]
    [InlineData("4000.0999", 0, "4000.09")]
    [OutsideCheck("Intermediate results 5.678951 and 4,000.0999, reported to 2 and to 0 decimals", "cut off two places beyond: 5.6789 and 4,000.09", "Louisiana DOTD, rounding rules (2018)", SourceMark.Published)]
    public void Intermediate_results_are_cut_off_two_places_beyond(string value, int digits, string expected) =>
        Assert.Equal(D(expected), Rounding.Intermediate(D(value), digits));

    [Theory]
    [InlineData("23.04", true)]
    [InlineData("23.05", true)]
    [InlineData("23.06", false)]
    [OutsideCheck("A limit printed 23.0 C: 23.04, 23.05 and 23.06 C by the even rule", "23.0, 23.0, 23.1: within 0.05", "ACI TCM-20, 11.6.7", SourceMark.Published)]
    public void A_limit_printed_to_a_tenth_is_compared_to_a_tenth(string value, bool met) =>
        Assert.Equal(met, Rounding.ForLimit(D(value), Reading.Parse("23.0"), RoundingRule.HalfEven) <= 23.0m);

    [Fact]
    public void Every_rule_leaves_a_value_within_one_step_and_rounding_twice_changes_nothing() =>
        Gen.Select(Gen.Decimal[-10_000m, 10_000m], Gen.Int[0, 3], Gen.Enum<RoundingRule>()).Sample((value, digits, rule) =>
        {
            var once = Rounding.Round(value, digits, rule);
            var step = digits switch { 0 => 1m, 1 => 0.1m, 2 => 0.01m, _ => 0.001m };
            return Math.Abs(once - value) < step && Rounding.Round(once, digits, rule) == once;
        });

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
