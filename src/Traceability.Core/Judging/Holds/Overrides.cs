using Traceability.Core.Dossiers;
using Traceability.Core.Events;

namespace Traceability.Core.Judging.Holds;

/// <summary>
/// What an override never opens: an agency's hold, a check of lifting, domestic steel, a rejected unit. The record of one
/// there is a breach.
/// </summary>
public static class Overrides
{
    // As much as the record of an override takes of one item.
    private const int LongestKey = 300;

    /// <summary>
    /// How an override names an open item that it goes over: "requirement subject", and in brackets the verdict where it is
    /// worse than that a record is absent, so that what turned out worse is not gone over.
    /// </summary>
    public static string Key(OpenItem item) => Key(item, item.Verdict);

    /// <summary>Whether what an override names goes over an item as it is now: it was named so, or worse.</summary>
    internal static bool GoesOver(IReadOnlySet<string> named, OpenItem item) => item.Verdict switch
    {
        Verdict.NotMet => named.Contains(Key(item, Verdict.NotMet)),
        Verdict.CannotTell => named.Contains(Key(item, Verdict.CannotTell)) || named.Contains(Key(item, Verdict.NotMet)),
        _ => named.Contains(Key(item, Verdict.Missing)) || named.Contains(Key(item, Verdict.CannotTell)) || named.Contains(Key(item, Verdict.NotMet)),
    };

    private static string Key(OpenItem item, Verdict verdict)
    {
        var worse = verdict switch { Verdict.NotMet => " (not met)", Verdict.CannotTell => " (cannot tell)", _ => "" };
        var key = $"{item.Requirement} {item.Subject}";
        return (key.Length > LongestKey - worse.Length ? key[..(LongestKey - worse.Length)] : key) + worse;
    }

    /// <summary>Whether no override opens what this requirement holds.</summary>
    public static bool None(string requirement) =>
        IsLifting(requirement) || IsAgency(requirement) || IsRejection(requirement) || requirement.Contains(".domestic", StringComparison.Ordinal);

    internal static bool IsLifting(string requirement) => requirement.StartsWith("strip.lift", StringComparison.Ordinal);

    internal static bool IsAgency(string requirement) => requirement.EndsWith(".agency", StringComparison.Ordinal);

    /// <summary>Whether what this requirement finds stands in the way of every step, not of those after its hold alone.</summary>
    internal static bool IsOfEveryStep(string requirement) => IsRejection(requirement) || string.Equals(requirement, Ship.Conflicts.Name, StringComparison.Ordinal);

    internal static bool IsRejection(string requirement) => string.Equals(requirement, Ship.NotRejected.Name, StringComparison.Ordinal);

    /// <summary>Why a recorded override opens nothing; null when it may.</summary>
    internal static string? WhyNone(Matter matter, Entry entry, HoldOverridden over)
    {
        if (over.Breach) return "it is recorded as a breach";
        if (HoldRules.Of(matter, over.Hold)?.Authority == HoldAuthority.AgencyHold) return "the hold is the agency's";
        if (over.OpenItems.FirstOrDefault(o => None(o.Split(' ')[0])) is { } item) return $"nobody may override {item}";
        if (entry.Person is null) return "it names nobody who decided";
        return string.Equals(entry.Person, over.SecondApprover, StringComparison.Ordinal) ? $"{entry.Person} cannot approve an own override" : null;
    }

    /// <summary>The overrides of a hold that open nothing, each a breach, with why.</summary>
    internal static IEnumerable<(Entry Entry, string Why)> Breaches(Matter matter, HoldKind kind) =>
        from entry in matter.File.Entries
        where entry.Fact is HoldOverridden over && over.Hold == kind && over.About == matter.File.Unit
        let why = WhyNone(matter, entry, (HoldOverridden)entry.Fact)
        where why is not null
        select (entry, why);
}
