using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// The unit as it came out of the form: every dimension of the drawing measured, inside its tolerance, and the surface as
/// drawn. Needs: drawing, inspection as cast, which the profile may ask for. The last inspection counts.
/// </summary>
public sealed class AsCast : IRequirement
{
    private const string Asked = "asked.as-cast";

    private static readonly Citation Source = new("Inspection of the finished unit", SourceMark.CommonPractice);

    public string Id => "ship.as-cast";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Dimensions and surface as cast";
    public IReadOnlyList<string> Limits => [Asked, .. Tolerance.Keys];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Of<AsCastInspected>().LastOrDefault(i => i.Fact.About == matter.File.Unit) is not { } inspection)
        {
            yield return Evidence.AbsentWhereAsked<AsCastInspected>(this, matter, unit, Asked, "The unit was not inspected as cast.", "The plant inspector measures it.", Source);
            yield break;
        }

        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Source) with { Used = [inspection.Id] };
            yield break;
        }

        yield return Matter.Finding(this, $"{unit} surface as cast", inspection.Fact.SurfaceAsDrawn ? Verdict.Met : Verdict.NotMet,
            inspection.Fact.SurfaceAsDrawn ? "The surface is as the drawing asks." : "The surface is not as the drawing asks.", Source)
            with { Clear = inspection.Fact.SurfaceAsDrawn ? "" : "The quality engineer raises a nonconformance.", Used = [inspection.Id, drawing.Id] };
        foreach (var specified in drawing.Fact.Dimensions)
        {
            var subject = $"{unit} {specified.Name} as cast";
            var measured = inspection.Fact.Dimensions.Where(d => d.Name == specified.Name).ToList();
            if (measured.Count == 0)
            {
                yield return Matter.Finding(this, subject, Verdict.Missing, $"{specified.Name} was not measured as cast.", Source)
                    with { Limit = $"{specified.SpecifiedIn.Text} in specified", Clear = "The plant inspector measures it before shipping.", Used = [inspection.Id, drawing.Id] };
            }

            foreach (var one in measured)
                yield return Tolerance.Judge(this, matter, subject, specified, one, "The quality engineer raises a nonconformance; the engineer of record decides.") with { Used = [inspection.Id, drawing.Id, matter.Profile?.Id ?? drawing.Id] };
        }
    }
}
