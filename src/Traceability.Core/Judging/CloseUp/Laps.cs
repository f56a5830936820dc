using Traceability.Core.Events;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>Laps are not shorter than drawn by more than the tolerance. Needs: drawing, close-up inspection.</summary>
public sealed class Laps : IRequirement
{
    private const string Reduction = "lap.reduction";

    public string Id => "close-up.laps";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Length of the laps";
    public IReadOnlyList<string> Limits => [Reduction];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<CloseUpInspected>() is not { } inspection)
        {
            yield return Evidence.NoCloseUp(this, matter);
            yield break;
        }

        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Evidence.CloseUp) with { Used = [inspection.Id] };
            yield break;
        }

        if (matter.Limit(Reduction) is not { } reduction)
        {
            yield return matter.NoLimit(this, unit, Reduction);
            yield break;
        }

        var lapped = drawing.Fact.Bars.Where(b => b.LapIn is not null).ToList();
        if (lapped.Count == 0)
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, "The drawing shows no laps.", Evidence.Of(drawing)) with { Used = [drawing.Id] };

        foreach (var line in lapped)
        {
            var drawn = line.LapIn!.Value;
            var subject = $"{unit} bar mark {line.BarMark} lap {drawn.Text} in";
            var found = inspection.Fact.Bars.Where(b => b.BarMark == line.BarMark).ToList();
            if (found.Count == 0 || found.Exists(b => b.LapIn is null))
            {
                yield return Matter.Finding(this, subject, Verdict.Missing, $"The lap of bar mark {line.BarMark} was not measured.", reduction.Source) with
                {
                    Limit = reduction.Printed, LimitConfirmed = reduction.ConfirmedBy is not null,
                    Clear = "The plant inspector measures it before the form closes.", Used = [inspection.Id, drawing.Id],
                };
                continue;
            }

            var shortest = found.MinBy(b => b.LapIn!.Value.Value)!.LapIn!.Value;
            var met = shortest.Value >= drawn.Value - reduction.Value.Value;
            yield return matter.Against(this, subject, reduction, met, $"Bar mark {line.BarMark}: {shortest.Text} in measured, {drawn.Text} in drawn.", shortest.Text + " in") with
            {
                Rounding = "compared as read",
                Clear = met ? "" : "The crew lengthens the lap, or the quality engineer asks the engineer of record, before the form closes.",
                Used = [inspection.Id, drawing.Id, matter.Profile!.Id],
            };
        }
    }
}
