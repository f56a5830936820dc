using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// The close-up inspection came before the inspection of the closed form, and that before the pour began; a second pour into
/// the unit, as of a curb, has an inspection of its own since the first. Needs: close-up inspection, pre-pour inspections,
/// placements. Closer together than the stations' clocks are sure, nobody can tell.
/// </summary>
public sealed class InOrder : IRequirement
{
    public string Id => "pour.in-order";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Close-up, closing and pour in their order";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        var closed = matter.File.Of<PrePourInspected>();
        if (closed.Count == 0)
        {
            yield return Evidence.NoPrePour(this, matter);
            yield break;
        }

        var pours = matter.File.Placements.Select(p => p.Pour).DistinctBy(p => p.Id)
            .Select(p => (Pour: p, Began: p.Clocked(p.Fact.StartedAt))).OrderBy(p => p.Began.At).ThenBy(p => p.Pour.Id).ToList();
        // What was inspected again for a later pour says nothing of the first.
        Moment? first = pours.Count > 0 ? pours[0].Began : null;
        if (NotAfter(matter.File.Of<CloseUpInspected>(), first) is { } open && NotAfter(closed, first) is { } then)
            yield return Order(matter, $"{unit} close-up before closing", "the close-up inspection", open.At, open.Id, "the inspection before the pour", then.At, then.Id);
        else
            yield return Evidence.NoCloseUp(this, matter) with { Subject = $"{unit} close-up before closing", Verdict = Verdict.Missing };

        foreach (var (pour, began) in pours)
        {
            var before = pours.FindLastIndex(p => p.Began.Compare(began) == TimeOrder.Before && p.Pour.Id != pour.Id);
            yield return before < 0 ? Inspected(matter, pour, began, closed) : Again(matter, pour, began, pours[before].Pour, pours[before].Began, closed);
        }
    }

    private Finding Inspected(Matter matter, Entry<PourPlaced> pour, Moment began, IReadOnlyList<Entry<PrePourInspected>> closed)
    {
        // One that was certainly in time is enough; else the last says how it was.
        var seen = closed.LastOrDefault(c => c.At.Compare(began) == TimeOrder.Before) ?? NotAfter(closed, began)!;
        return Order(matter, Named(matter, pour), "the inspection before the pour", seen.At, seen.Id, "the pour", began, pour.Id);
    }

    private Finding Again(Matter matter, Entry<PourPlaced> pour, Moment began, Entry<PourPlaced> last, Moment lastBegan, IReadOnlyList<Entry<PrePourInspected>> closed)
    {
        var since = closed.Where(c => c.At.Compare(lastBegan) == TimeOrder.After).ToList();
        if (since.LastOrDefault(c => c.At.Compare(began) == TimeOrder.Before) is { } seen)
            return Order(matter, Named(matter, pour), "the inspection before the pour", seen.At, seen.Id, "the pour", began, pour.Id);
        var unclear = closed.LastOrDefault(c => c.At.Compare(lastBegan) != TimeOrder.Before && c.At.Compare(began) != TimeOrder.After);
        if (unclear is null && since.Count > 0)
            return Order(matter, Named(matter, pour), "the inspection before the pour", since[^1].At, since[^1].Id, "the pour", began, pour.Id);
        return Matter.Finding(this, Named(matter, pour), unclear is null ? Verdict.Missing : Verdict.CannotTell,
            unclear is null ? $"No inspection before the pour is recorded between pour {last.Fact.Pour} and pour {pour.Fact.Pour}."
                : $"The stations' clocks do not say whether the inspection before the pour came between pour {last.Fact.Pour} and pour {pour.Fact.Pour}.", Evidence.PrePour) with
        {
            Limit = "an inspection before each pour",
            LimitConfirmed = true,
            Observed = $"{began.At:yyyy-MM-dd HH:mm:ss zzz}",
            Clear = "The quality engineer corrects the time of a record, or decides on what was poured without an inspection.",
            Used = unclear is null ? [last.Id, pour.Id] : [last.Id, unclear.Id, pour.Id],
            SetAside = matter.Unused<PrePourInspected>(),
        };
    }

    private static string Named(Matter matter, Entry<PourPlaced> pour) => $"{matter.File.Unit.Key} inspected before {pour.Fact.About.Key}";

    // The last that did not certainly come after a moment; when all did, the last.
    private static Entry<T>? NotAfter<T>(IReadOnlyList<Entry<T>> all, Moment? moment) where T : IFact =>
        all.LastOrDefault(e => moment is not { } at || e.At.Compare(at) != TimeOrder.After) ?? all.LastOrDefault();

    private Finding Order(Matter matter, string subject, string first, Moment firstAt, Guid firstId, string second, Moment secondAt, Guid secondId)
    {
        var (verdict, reason) = firstAt.Compare(secondAt) switch
        {
            TimeOrder.Before => (Verdict.Met, $"{Evidence.Sentence(first)[..^1]} came before {second}."),
            TimeOrder.After => (Verdict.NotMet, $"{Evidence.Sentence(first)[..^1]} came after {second}."),
            _ => (Verdict.CannotTell, $"The stations' clocks do not say whether {first} came before {second}."),
        };
        return Matter.Finding(this, subject, verdict, reason, Evidence.PrePour) with
        {
            Limit = $"{first} before {second}",
            LimitConfirmed = true,
            Observed = $"{firstAt.At:yyyy-MM-dd HH:mm:ss zzz}, then {secondAt.At:yyyy-MM-dd HH:mm:ss zzz}",
            Clear = verdict == Verdict.Met ? "" : "The inspector inspects again, or the quality engineer corrects the time of a record.",
            Used = [firstId, secondId],
        };
    }
}
