using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// No later revision of the drawing was in force on the day of the pour. Needs: unit scheduled, drawing approved. A revision
/// approved after the pour is judged against what was in force then and changes nothing.
/// </summary>
public sealed class DrawingInForce : IRequirement
{
    private static readonly Citation Source = new("Cast to the revision in force", SourceMark.CommonPractice);

    public string Id => "pour.drawing-in-force";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Drawing revision in force";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Scheduled is not { } scheduled || Evidence.PourDay(matter.File) is not { } day)
        {
            yield return Matter.Finding(this, unit, Verdict.Missing, "The unit is not scheduled to a drawing revision.", Source)
                with { Clear = "The quality engineer schedules the unit.", SetAside = matter.Unused<UnitScheduled>() };
            yield break;
        }

        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Source) with { Used = [scheduled.Id] };
            yield break;
        }

        var own = drawing.Fact;
        var later = matter.File.Of<DrawingApproved>().Where(d => d.Fact.Drawing == own.Drawing && d.Fact.Revision != own.Revision && d.Fact.ApprovedOn >= own.ApprovedOn && d.Fact.ApprovedOn <= day)
            .OrderBy(d => d.Fact.ApprovedOn).ToList();
        var (verdict, reason) = later switch
        {
            _ when own.ApprovedOn > day => (Verdict.NotMet, $"{own.Drawing} revision {own.Revision} was approved on {own.ApprovedOn:yyyy-MM-dd}, after the pour on {day:yyyy-MM-dd}."),
            [] => (Verdict.Met, $"{own.Drawing} revision {own.Revision} is in force on {day:yyyy-MM-dd}."),
            _ when later.Exists(d => d.Fact.ApprovedOn > own.ApprovedOn && d.Fact.ApprovedOn < day) => (Verdict.NotMet, $"{own.Drawing} revision {own.Revision} was replaced by revision {later[^1].Fact.Revision} before the pour on {day:yyyy-MM-dd}."),
            _ => (Verdict.CannotTell, $"Revision {later[^1].Fact.Revision} was approved on {later[^1].Fact.ApprovedOn:yyyy-MM-dd}: the days do not say which revision was in force at the pour."),
        };
        yield return Matter.Finding(this, unit, verdict, reason, Source) with
        {
            Limit = "the revision in force at the pour",
            LimitConfirmed = true,
            Observed = $"{own.Drawing} revision {own.Revision}",
            Clear = verdict == Verdict.Met ? "" : "The quality engineer checks the unit against the later revision and schedules it to that, or asks the engineer of record.",
            Used = [scheduled.Id, drawing.Id, .. later.Select(d => d.Id)],
        };
    }
}
