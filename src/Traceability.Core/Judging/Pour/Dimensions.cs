using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// Every dimension the drawing specifies was measured in the closed form and lies inside the profile's tolerance for its
/// kind. Needs: drawing, pre-pour inspection. A thickness may be under by the larger of a share and a figure; over it is no
/// cause for rejection.
/// </summary>
public sealed class Dimensions : IRequirement
{
    public string Id => "pour.dimensions";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Dimensions of the closed form";
    public IReadOnlyList<string> Limits => Tolerance.Keys;

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<PrePourInspected>() is not { } inspection)
        {
            yield return Evidence.NoPrePour(this, matter);
            yield break;
        }

        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Evidence.PrePour) with { Used = [inspection.Id] };
            yield break;
        }

        if (drawing.Fact.Dimensions.Count == 0)
        {
            yield return Matter.Finding(this, unit, Verdict.Missing, "The drawing's record lists no dimensions, so none could be checked.", Evidence.Of(drawing))
                with { Clear = "The quality engineer completes the record of the drawing.", Used = [inspection.Id, drawing.Id] };
        }

        foreach (var specified in drawing.Fact.Dimensions)
        {
            var measured = inspection.Fact.Dimensions.Where(d => d.Name == specified.Name).ToList();
            var subject = $"{unit} {specified.Name}";
            if (measured.Count == 0)
            {
                yield return Matter.Finding(this, subject, Verdict.Missing, $"{specified.Name} was not measured.", Evidence.PrePour)
                    with { Limit = $"{specified.SpecifiedIn.Text} in specified", Clear = "The plant inspector measures it before the pour.", Used = [inspection.Id, drawing.Id] };
                continue;
            }

            foreach (var one in measured)
                yield return Tolerance.Judge(this, matter, subject, specified, one, "The form crew sets the form right and the inspector measures again before the pour.") with { Used = [inspection.Id, drawing.Id, matter.Profile?.Id ?? drawing.Id] };
        }
    }
}
