using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// The close-up inspection came before the inspection of the closed form, and that before the pour began. Needs: close-up
/// inspection, pre-pour inspection, placement. Closer together than the stations' clocks are sure, nobody can tell.
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
        if (matter.File.Last<PrePourInspected>() is not { } closed)
        {
            yield return Evidence.NoPrePour(this, matter);
            yield break;
        }

        if (matter.File.Last<CloseUpInspected>() is { } open)
            yield return Order(matter, $"{unit} close-up before closing", "the close-up inspection", open.At, open.Id, "the inspection before the pour", closed.At, closed.Id);
        else
            yield return Evidence.NoCloseUp(this, matter) with { Subject = $"{unit} close-up before closing", Verdict = Verdict.Missing };

        foreach (var pour in matter.File.Placements.Select(p => p.Pour).DistinctBy(p => p.Id))
            yield return Order(matter, $"{unit} inspected before {pour.Fact.About.Key}", "the inspection before the pour", closed.At, closed.Id, "the pour", pour.Clocked(pour.Fact.StartedAt), pour.Id);
    }

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
