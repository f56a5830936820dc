using Traceability.Core.Dossiers;

namespace Traceability.Core.Judging;

/// <summary>What one requirement says of one subject of a unit under two profiles; null where it says nothing under one.</summary>
public sealed record TwoFindings(Finding? Left, Finding? Right)
{
    public Finding Either => (Left ?? Right)!;

    /// <summary>Whether the two profiles come to another verdict.</summary>
    public bool Differs => Left?.Verdict != Right?.Verdict;

    /// <summary>Whether they print another limit, whatever the verdict.</summary>
    public bool LimitDiffers => Left?.Limit != Right?.Limit || Left?.Rounding != Right?.Rounding;
}

/// <summary>One unit judged by two profiles at one moment on the same records.</summary>
public sealed record SideBySide(Judgement Left, Judgement Right, IReadOnlyList<TwoFindings> Findings)
{
    public static SideBySide Of(UnitFile left, UnitFile right, DateTimeOffset at)
    {
        var (one, other) = (Judge.Unit(left, at), Judge.Unit(right, at));
        static ILookup<(string, string), Finding> Keyed(Judgement judgement) => judgement.Findings.ToLookup(f => (f.Requirement, f.Subject));
        var (ours, theirs) = (Keyed(one), Keyed(other));
        return new(one, other,
        [
            .. one.Findings.Concat(other.Findings).OrderBy(f => f.Hold).ThenBy(f => f.Requirement, StringComparer.Ordinal).ThenBy(f => f.Subject, StringComparer.Ordinal)
                .Select(f => (f.Requirement, f.Subject)).Distinct().SelectMany(key => Pair([.. ours[key]], [.. theirs[key]])),
        ]);
    }

    private static IEnumerable<TwoFindings> Pair(List<Finding> left, List<Finding> right)
    {
        for (var i = 0; i < Math.Max(left.Count, right.Count); i++) yield return new(left.ElementAtOrDefault(i), right.ElementAtOrDefault(i));
    }
}
