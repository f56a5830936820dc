using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// The revision the unit is scheduled to was not withdrawn before the pour. Needs: unit scheduled, drawing superseded. One
/// withdrawn from a moment after the pour began changes nothing.
/// </summary>
public sealed class DrawingStands : IRequirement
{
    private static readonly Citation Source = new("Cast to the revision in force", SourceMark.CommonPractice);

    public string Id => "pour.drawing-stands";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Drawing revision not withdrawn";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Scheduled is not { } scheduled)
        {
            return
            [
                Matter.Finding(this, unit, Verdict.Missing, "The unit is not scheduled to a drawing revision.", Source)
                    with { Clear = "The quality engineer schedules the unit.", SetAside = matter.Unused<UnitScheduled>() },
            ];
        }

        var began = matter.File.Placements.Select(p => (DateTimeOffset?)p.Pour.Fact.StartedAt).Min();
        var withdrawn = matter.File.Of<DrawingSuperseded>()
            .Where(s => s.Fact.Drawing == scheduled.Fact.Drawing && s.Fact.Revision == scheduled.Fact.Revision)
            .FirstOrDefault(s => began is { } start ? s.Fact.From <= start : matter.HasCome(s.Fact.From));
        var revision = $"{scheduled.Fact.Drawing} revision {scheduled.Fact.Revision}";
        return
        [
            Matter.Finding(this, unit, withdrawn is null ? Verdict.Met : Verdict.NotMet,
                withdrawn is null ? $"{revision} is not withdrawn." : $"{revision} may not be poured to from {withdrawn.Fact.From:yyyy-MM-dd HH:mm zzz} on: {withdrawn.Fact.Reason}", Source) with
            {
                Limit = "a revision that is not withdrawn",
                LimitConfirmed = true,
                Observed = revision,
                Clear = withdrawn is null ? "" : $"The quality engineer schedules the unit to {(withdrawn.Fact.By is { } by ? "revision " + by : "a revision that stands")}, or asks the engineer of record.",
                Used = withdrawn is null ? [scheduled.Id] : [scheduled.Id, withdrawn.Id],
            },
        ];
    }
}
