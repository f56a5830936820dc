using CsCheck;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Tests.Profiles;

public sealed class TightnessTests
{
    private static readonly Gen<Reading> Figure =
        from digits in Gen.Int[0, 2]
        from whole in Gen.Int[0, 12]
        from rest in Gen.Int[0, digits == 0 ? 0 : digits == 1 ? 9 : 99]
        select Reading.Parse(digits == 0 ? $"{whole}" : $"{whole}.{rest.ToString(digits == 1 ? "0" : "00", System.Globalization.CultureInfo.InvariantCulture)}");

    private static bool Meets(Direction direction, decimal observed, Reading limit, RoundingRule rule)
    {
        var compared = Rounding.ForLimit(observed, limit, rule);
        return direction == Direction.AtLeast ? compared >= limit.Value : compared <= limit.Value;
    }

    // Eighths of the finest digit, so that halves of every digit are among them.
    private static readonly IReadOnlyList<decimal> Observed = [.. Enumerable.Range(0, 14 * 800).Select(i => i / 800m)];

    [Theory]
    [InlineData(Direction.AtMost)]
    [InlineData(Direction.AtLeast)]
    [InlineData(Direction.PlusOrMinus)]
    [InlineData(Direction.Every)]
    public void A_limit_is_tighter_exactly_when_what_meets_it_meets_the_other(Direction direction)
    {
        Gen.Select(Figure, Figure, Gen.Enum<RoundingRule>()).Sample((limit, than, rule) =>
        {
            var onlyLimit = Observed.Any(o => Meets(direction, o, limit, rule) && !Meets(direction, o, than, rule));
            var onlyThan = Observed.Any(o => !Meets(direction, o, limit, rule) && Meets(direction, o, than, rule));
            // A smallest value that rounds from zero or below is met by everything that can be observed.
            if (direction == Direction.AtLeast && (limit.Value < 1 || than.Value < 1)) return;
            Assert.Equal((onlyLimit, onlyThan) switch
            {
                (false, false) => Strictness.Same,
                (false, true) => Strictness.Tighter,
                _ => Strictness.Looser,
            }, Tightness.Of(direction, limit, than, rule));
        }, iter: 300);
    }

    [Theory]
    [InlineData("4.0", "4", Strictness.Tighter)]
    [InlineData("4", "4.0", Strictness.Looser)]
    [InlineData("4", "4", Strictness.Same)]
    [InlineData("3/8", "1/2", Strictness.Tighter)]
    public void The_digits_a_limit_is_written_with_count(string limit, string than, Strictness expected) =>
        Assert.Equal(expected, Tightness.Of(Direction.AtMost, Reading.Parse(limit), Reading.Parse(than), RoundingRule.HalfUp));

    [Fact]
    public void Where_neither_way_is_tighter_two_figures_are_the_same_or_not()
    {
        Assert.Equal(Strictness.Neither, Tightness.Of(Direction.Fixed, Reading.Parse("56"), Reading.Parse("28"), RoundingRule.HalfEven));
        Assert.Equal(Strictness.Same, Tightness.Of(Direction.Fixed, Reading.Parse("28.0"), Reading.Parse("28"), RoundingRule.HalfEven));
    }

    [Fact]
    public void Comparing_as_observed_is_tighter_than_any_rounding_and_no_other_rule_is_tighter_both_ways()
    {
        foreach (var rule in Enum.GetValues<RoundingRule>())
        {
            foreach (var than in Enum.GetValues<RoundingRule>())
            {
                var tighter = new[] { Direction.AtMost, Direction.AtLeast }.All(d => new[] { "4", "5" }.Select(Reading.Parse).All(l => Observed.Where(o => o > 1).All(o => !Meets(d, o, l, rule) || Meets(d, o, l, than))));
                Assert.Equal(tighter, Tightness.Of(rule, than) is Strictness.Tighter or Strictness.Same);
            }
        }
    }

    [Fact]
    public void Every_limit_that_a_requirement_asks_for_is_in_the_list_of_keys()
    {
        var asked = Rules.All.SelectMany(r => r.Limits).Distinct().ToList();

        Assert.Empty(asked.Except(LimitKeys.All.Select(k => k.Key)));
        Assert.Empty(LimitKeys.All.Select(k => k.Key).Except(asked));
    }

    [Fact]
    public void A_key_covers_one_kind_of_limit_alone() =>
        Assert.All(LimitKeys.All, k => Assert.Single(LimitKeys.All, o => o.Covers(k.Key.Replace("<specification>", "a615", StringComparison.Ordinal).Replace("<grade>", "60", StringComparison.Ordinal).Replace("<sizes>", "3-6", StringComparison.Ordinal))));
}
