namespace Traceability.Core.Concrete;

/// <summary>One line of a bar schedule or of what was tied.</summary>
/// <param name="Mark">Bar mark of the drawing.</param>
/// <param name="Size">Size as written: "#5", "W10".</param>
/// <param name="LengthIn">Length of one bar, inches; null where it was not stated.</param>
/// <param name="SpacingIn">Spacing, inches; null where it was not stated.</param>
/// <param name="Heats">Heats the bars came from; empty on a drawing.</param>
public sealed record ScheduleLine(string Mark, string Size, int Count, decimal? LengthIn = null, decimal? SpacingIn = null, IReadOnlyList<string>? Heats = null);

/// <summary>How what was tied differs from the schedule.</summary>
public enum ScheduleMatter { NotTied, NotScheduled, Size, Count, Length, Spacing, NoHeat, NotStated }

/// <summary>One difference.</summary>
/// <param name="Scheduled">What the schedule says, as text.</param>
/// <param name="Tied">What was tied, as text.</param>
public sealed record ScheduleDifference(string Mark, ScheduleMatter Matter, string Scheduled, string Tied);

/// <summary>Allowed differences between schedule and cage, both ways.</summary>
/// <param name="LengthIn">Of a straight bar, inches; 1 in by ACI 117 and CRSI (from memory).</param>
/// <param name="SpacingIn">Of the spacing, inches, while the count is the schedule's; 3 in in slabs and walls by ACI 117 (published).</param>
public sealed record ScheduleTolerance(decimal LengthIn, decimal SpacingIn);

/// <summary>Reconciles a bar schedule with what was tied: size, count, length, spacing, heats.</summary>
public static class Schedule
{
    /// <summary>
    /// Every difference, by bar mark; empty when the cage is as scheduled. A figure that the schedule states and the cage
    /// does not is a difference: nothing unchecked reads as good. Lines of one mark are taken together.
    /// </summary>
    public static IReadOnlyList<ScheduleDifference> Differences(IReadOnlyCollection<ScheduleLine> scheduled, IReadOnlyCollection<ScheduleLine> tied, ScheduleTolerance tolerance)
    {
        var wanted = scheduled.ToLookup(l => l.Mark, StringComparer.Ordinal);
        var found = tied.ToLookup(l => l.Mark, StringComparer.Ordinal);
        return
        [
            .. wanted.SelectMany(mark => found.Contains(mark.Key) ? Mark(mark.Key, [.. mark], [.. found[mark.Key]], tolerance) : [new(mark.Key, ScheduleMatter.NotTied, Words(mark), "")]),
            .. found.Where(mark => !wanted.Contains(mark.Key)).Select(mark => new ScheduleDifference(mark.Key, ScheduleMatter.NotScheduled, "", Words(mark))),
        ];
    }

    private static IEnumerable<ScheduleDifference> Mark(string mark, ScheduleLine[] wanted, ScheduleLine[] found, ScheduleTolerance tolerance)
    {
        var (sizes, others) = (Distinct(wanted, l => l.Size), Distinct(found, l => l.Size));
        if (!sizes.SequenceEqual(others, StringComparer.Ordinal)) yield return new(mark, ScheduleMatter.Size, string.Join(", ", sizes), string.Join(", ", others));
        var (count, counted) = (wanted.Sum(l => (long)l.Count), found.Sum(l => (long)l.Count));
        if (count != counted) yield return new(mark, ScheduleMatter.Count, $"{count}", $"{counted}");
        foreach (var difference in Figure(mark, ScheduleMatter.Length, wanted, found, l => l.LengthIn, tolerance.LengthIn)) yield return difference;
        foreach (var difference in Figure(mark, ScheduleMatter.Spacing, wanted, found, l => l.SpacingIn, tolerance.SpacingIn)) yield return difference;
        if (found.Any(l => l.Heats is null or { Count: 0 })) yield return new(mark, ScheduleMatter.NoHeat, "a heat for every bar", "none named");
    }

    private static IEnumerable<ScheduleDifference> Figure(string mark, ScheduleMatter matter, ScheduleLine[] wanted, ScheduleLine[] found, Func<ScheduleLine, decimal?> figure, decimal tolerance)
    {
        var asked = wanted.Select(figure).OfType<decimal>().Distinct().ToList();
        if (asked.Count == 0) yield break;
        var words = string.Join(", ", asked.Select(a => $"{a:0.####} in"));
        foreach (var line in found)
        {
            if (figure(line) is not { } value) yield return new(mark, ScheduleMatter.NotStated, words, "");
            else if (asked.TrueForAll(a => Math.Abs(a - value) > tolerance)) yield return new(mark, matter, words, $"{value:0.####} in");
        }
    }

    private static string[] Distinct(ScheduleLine[] lines, Func<ScheduleLine, string> what) => [.. lines.Select(what).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal)];

    private static string Words(IEnumerable<ScheduleLine> lines) => string.Join(", ", lines.Select(l => $"{l.Count} {l.Size}"));
}
