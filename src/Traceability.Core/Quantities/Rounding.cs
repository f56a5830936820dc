using Traceability.Core.Profiles;

namespace Traceability.Core.Quantities;

/// <summary>Rounding of observed values before they are compared with a limit, in decimal arithmetic.</summary>
public static class Rounding
{
    /// <summary>Digits after the point that a limit was written with; observed values are rounded to these.</summary>
    public static int DigitsOf(Reading limit)
    {
        if (limit.Text.Contains('/', StringComparison.Ordinal)) return limit.Value.Scale;
        var point = limit.Text.IndexOf('.', StringComparison.Ordinal);
        return point < 0 ? 0 : limit.Text.Length - point - 1;
    }

    /// <summary>Rounds to a number of digits after the point; <see cref="RoundingRule.Absolute"/> leaves the value as it is.</summary>
    public static decimal Round(decimal value, int digits, RoundingRule rule) => rule switch
    {
        RoundingRule.HalfEven => decimal.Round(value, digits, MidpointRounding.ToEven),
        RoundingRule.HalfUp => decimal.Round(value, digits, MidpointRounding.AwayFromZero),
        RoundingRule.Truncate => decimal.Round(value, digits, MidpointRounding.ToZero),
        RoundingRule.Absolute => value,
        _ => throw new ArgumentOutOfRangeException(nameof(rule), rule, "not a rounding rule"),
    };

    /// <summary>Rounds to a multiple of a step, for example strengths to 10 psi.</summary>
    public static decimal RoundTo(decimal value, decimal step, RoundingRule rule) =>
        rule == RoundingRule.Absolute ? value : Round(value / step, 0, rule) * step;

    /// <summary>
    /// An intermediate result of a calculation, cut off two places beyond the digits that are reported. Louisiana DOTD,
    /// rounding rules, 2018 (published); only the reported value is then rounded.
    /// </summary>
    public static decimal Intermediate(decimal value, int reportedDigits) => Round(value, reportedDigits + 2, RoundingRule.Truncate);

    /// <summary>The value as it is compared with the limit.</summary>
    public static decimal ForLimit(decimal value, Reading limit, RoundingRule rule) => Round(value, DigitsOf(limit), rule);
}
