using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;

namespace Traceability.Core.Integrity;

/// <summary>A finding that was not met and that a change of a record made into something better, or made disappear.</summary>
/// <param name="After">The verdict afterwards; null when nothing is found of it any more.</param>
public sealed record Turned(string Unit, string Requirement, string Subject, Verdict Before, Verdict? After)
{
    /// <summary>
    /// Findings that were not met, or that nobody could tell, and are neither afterwards. A finding that is gone or merely
    /// missing counts too: what makes bad evidence vanish opens the way for good.
    /// </summary>
    public static IReadOnlyList<Turned> Between(Judgement before, Judgement after)
    {
        var now = after.Findings.ToLookup(f => (f.Requirement, f.Subject));
        return
        [
            .. before.Findings.Where(f => f.Verdict is Verdict.NotMet or Verdict.CannotTell)
                .Select(was => (Was: was, Now: now[(was.Requirement, was.Subject)].ToList()))
                .Where(x => !x.Now.Exists(f => f.Verdict is Verdict.NotMet or Verdict.CannotTell))
                .Select(x => new Turned(before.Unit.Id, x.Was.Requirement, x.Was.Subject, x.Was.Verdict, x.Now.Count == 0 ? null : x.Now[0].Verdict)).Distinct(),
        ];
    }

    /// <summary>
    /// What a restatement of an earlier record turns for the better: <see cref="Between"/>, and what was missing or pending and is allowed afterwards.
    /// A new reading may do that; who says anew what was said before needs a second person for it.
    /// </summary>
    public static IReadOnlyList<Turned> ByRestating(Judgement before, Judgement after)
    {
        var now = after.Findings.ToLookup(f => (f.Requirement, f.Subject));
        return
        [
            .. Between(before, after),
            .. before.Findings.Where(f => f.Verdict is Verdict.Missing or Verdict.Pending)
                .Select(was => (Was: was, Now: now[(was.Requirement, was.Subject)].ToList()))
                .Where(x => x.Now.Count > 0 && x.Now.TrueForAll(f => f.Verdict is Verdict.Met or Verdict.Provisional))
                .Select(x => new Turned(before.Unit.Id, x.Was.Requirement, x.Was.Subject, x.Was.Verdict, x.Now[0].Verdict)).Distinct(),
        ];
    }

    /// <summary>The note of a change that turned something; null when it turned nothing.</summary>
    public static IntegrityNote? Note(Record change, IReadOnlyList<Turned> turned)
    {
        if (turned.Count == 0) return null;
        var (word, record, reason, second) = change.Fact switch
        {
            RecordCorrected c => ("correction", c.Record, c.Reason, c.SecondApprover),
            RecordWithdrawn w => ("withdrawal", w.Record, w.Reason, w.SecondApprover),
            _ => throw new ArgumentException("it changes no record", nameof(change)),
        };
        second ??= SecondPerson(change.Assurance);
        return new(IntegrityKind.TurnedByChange,
            $"A {word} by {change.Person ?? "nobody named"}, {(second is null ? "without a second approver" : $"approved by {second}")}, took away what was not met: {string.Join("; ", turned.Take(4).Select(t => $"{t.Requirement} of {t.Subject}"))}{(turned.Count > 4 ? $" and {turned.Count - 4} more" : "")}. Reason given: {reason}",
            change.Person, change.OccurredAt.At, [record, change.Id], Records.Subject.Unit(turned[0].Unit));
    }

    /// <summary>What the assurance of a record says when a second person approved it.</summary>
    public static string Approved(string person) => $", approved by {person} with the PIN";

    private static string? SecondPerson(string assurance)
    {
        const string mark = ", approved by ";
        var at = assurance.LastIndexOf(mark, StringComparison.Ordinal);
        return at < 0 ? null : assurance[(at + mark.Length)..].Split(' ')[0];
    }
}
