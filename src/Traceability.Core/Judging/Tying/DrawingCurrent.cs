using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Tying;

/// <summary>
/// The cage was tied to the revision the unit is scheduled to, approved and not yet replaced on that day. Needs: unit
/// scheduled, drawing approved, cage tied. Approvals are dated in days, so a replacement of the same day cannot be told.
/// </summary>
public sealed class DrawingCurrent : IRequirement
{
    private static readonly Citation Source = new("Approved shop drawings before work begins", SourceMark.CommonPractice);

    public string Id => "tying.drawing-current";
    public HoldKind Hold => HoldKind.Tying;
    public string Title => "Drawing approved and current";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Scheduled is not { } scheduled)
        {
            yield return Matter.Finding(this, unit, Verdict.Missing, "The unit is not scheduled to a drawing revision.", Source)
                with { Clear = "The quality engineer schedules the unit.", SetAside = matter.Unused<UnitScheduled>() };
            yield break;
        }

        if (matter.File.Cage is not { } cage)
        {
            yield return Evidence.Absent<CageTied>(this, matter, unit, "No cage has been tied for this unit yet.", "The cage crew records the cage with its drawing revision.", Source) with { Used = [scheduled.Id] };
            yield break;
        }

        var subject = $"{unit} {cage.Fact.About.Key}";
        var tied = $"{cage.Fact.Drawing} revision {cage.Fact.Revision}";
        var day = Matter.DayOf(cage.At.At);
        var own = matter.File.Of<DrawingApproved>().Where(d => d.Fact.Drawing == cage.Fact.Drawing && d.Fact.Revision == cage.Fact.Revision).OrderBy(d => d.Fact.ApprovedOn).ToList();
        var newer = own.Count == 0 ? [] : matter.File.Of<DrawingApproved>()
            .Where(d => d.Fact.Drawing == cage.Fact.Drawing && d.Fact.Revision != cage.Fact.Revision && d.Fact.ApprovedOn >= own[0].Fact.ApprovedOn && d.Fact.ApprovedOn <= day)
            .OrderBy(d => d.Fact.ApprovedOn).ToList();
        var (verdict, reason) = (Scheduled: cage.Fact.Drawing == scheduled.Fact.Drawing && cage.Fact.Revision == scheduled.Fact.Revision, own.Count, newer.Count) switch
        {
            (false, _, _) => (Verdict.NotMet, $"The cage was tied to {tied}, the unit is scheduled to {scheduled.Fact.Drawing} revision {scheduled.Fact.Revision}."),
            (_, 0, _) => (Verdict.Missing, $"No approval of {tied} is recorded."),
            _ when own[0].Fact.ApprovedOn > day => (Verdict.NotMet, $"{tied} was approved on {own[0].Fact.ApprovedOn:yyyy-MM-dd}, after the cage was tied on {day:yyyy-MM-dd}."),
            (_, _, > 0) when newer.Exists(n => n.Fact.ApprovedOn > own[0].Fact.ApprovedOn && n.Fact.ApprovedOn < day) =>
                (Verdict.NotMet, $"{tied} was replaced by revision {newer[^1].Fact.Revision} on {newer[^1].Fact.ApprovedOn:yyyy-MM-dd}, before the cage was tied on {day:yyyy-MM-dd}."),
            (_, _, > 0) => (Verdict.CannotTell, $"Revision {newer[^1].Fact.Revision} was approved on {newer[^1].Fact.ApprovedOn:yyyy-MM-dd}: the days do not say which revision was current when the cage was tied."),
            _ => (Verdict.Met, $"{tied}, approved on {own[0].Fact.ApprovedOn:yyyy-MM-dd}, was current on {day:yyyy-MM-dd}."),
        };
        yield return Matter.Finding(this, subject, verdict, reason, Source) with
        {
            Observed = tied,
            Clear = verdict == Verdict.Met ? "" : "The quality engineer records the approval, or has the cage checked against the current revision and tied again.",
            Used = [scheduled.Id, cage.Id, .. own.Select(d => d.Id), .. newer.Select(d => d.Id)],
            SetAside = matter.Unused<DrawingApproved>(),
        };
    }
}
