using Traceability.Core.Quantities;

namespace Traceability.Core.Profiles;

/// <summary>How one limit stands to another of the same key.</summary>
public enum Strictness { Same, Tighter, Looser, Neither }

/// <summary>
/// What "tighter" means: a limit is tighter than another when every observed value that meets it meets the other too, and
/// not the other way round. Values are rounded to the limit's own digits before they are compared, so the digits a limit is
/// written with count: at most "4.0" is tighter than at most "4", which 4 1/4 still meets.
/// </summary>
public static class Tightness
{
    /// <summary>How a limit stands to another, both read under one rounding rule. Limits are zero or more.</summary>
    public static Strictness Of(Direction direction, Reading limit, Reading than, RoundingRule rule)
    {
        if (direction == Direction.Fixed) return limit.Value == than.Value ? Strictness.Same : Strictness.Neither;
        var atLeast = direction == Direction.AtLeast;
        var (edge, meets) = Edge(limit, rule, atLeast);
        var (otherEdge, otherMeets) = Edge(than, rule, atLeast);
        var wider = edge == otherEdge ? meets.CompareTo(otherMeets) : atLeast ? otherEdge.CompareTo(edge) : edge.CompareTo(otherEdge);
        return wider switch { 0 => Strictness.Same, < 0 => Strictness.Tighter, _ => Strictness.Looser };
    }

    /// <summary>
    /// How a rounding rule stands to another over limits of both directions. A value that meets a limit as observed meets it
    /// rounded by any rule, so comparing as observed is tighter than each; of the others none is tighter in both directions.
    /// </summary>
    public static Strictness Of(RoundingRule rule, RoundingRule than) =>
        rule == than ? Strictness.Same
        : rule == RoundingRule.Absolute ? Strictness.Tighter
        : than == RoundingRule.Absolute ? Strictness.Looser
        : Strictness.Neither;

    // The last observed value that still meets the limit, and whether that value itself does.
    private static (decimal Edge, bool Meets) Edge(Reading limit, RoundingRule rule, bool atLeast)
    {
        var value = limit.Value;
        var unit = 1m;
        for (var i = Rounding.DigitsOf(limit); i > 0; i--) unit /= 10;
        var side = atLeast ? -1 : 1;
        return rule switch
        {
            RoundingRule.HalfEven => (value + side * unit / 2, value / unit % 2 == 0),
            RoundingRule.HalfUp => (value + side * unit / 2, atLeast),
            RoundingRule.Truncate when !atLeast => (value + unit, false),
            _ => (value, true),
        };
    }
}
