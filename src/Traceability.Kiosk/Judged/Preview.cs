using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;

namespace Traceability.Kiosk.Judged;

/// <summary>What an entry would change, before it is recorded: the same rules as the service's, run here.</summary>
public sealed class Preview
{
    private Preview(Judgement before, Judgement after, Guid draft)
    {
        After = after;
        var earlier = before.Findings.ToLookup(Key);
        // A finding that rests on the draft is shown although an earlier entry led to the same words: a second bad reading is no better for it.
        Concerned = [.. after.Findings.Where(f => f.Used.Contains(draft) || !earlier[Key(f)].Any(e => Same(e, f))).OrderBy(Urgency)];
        Holds = [.. before.Holds.Zip(after.Holds).Where(p => p.First.State != p.Second.State).Select(p => (p.First, p.Second))];
    }

    public Judgement After { get; }

    /// <summary>Findings that rest on the entry or would be changed by it, what does not allow the work first.</summary>
    public IReadOnlyList<Finding> Concerned { get; }

    /// <summary>Holds whose state the entry would change.</summary>
    public IReadOnlyList<(Hold Before, Hold After)> Holds { get; }

    /// <summary>Of these, how many do not allow the work and are not merely due later.</summary>
    public int ToFix => Concerned.Count(f => !f.Allows && f.Verdict != Verdict.Pending);

    public static Preview Of(Dossier known, Core.Records.Record draft, DateTimeOffset at) =>
        new(Judge.Dossier(known, at), Judge.Dossier(known.With(draft), at), draft.Id);

    private static (string, string) Key(Finding finding) => (finding.Requirement, finding.Subject);

    private static bool Same(Finding a, Finding b) =>
        a.Verdict == b.Verdict && a.Reason == b.Reason && a.Observed == b.Observed && a.Limit == b.Limit;

    private static int Urgency(Finding finding) => finding.Verdict switch
    {
        Verdict.NotMet => 0,
        Verdict.Missing => 1,
        Verdict.CannotTell => 2,
        Verdict.Pending => 4,
        _ => finding.Allows ? 5 : 3,
    };
}
