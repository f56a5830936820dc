using Traceability.Core.Concrete;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// Effective depth at every cover reading of a bar mark whose depth the drawing states. Needs: drawing, close-up inspection.
/// Asked only where the profile has a tolerance: steel too deep lowers strength, which the cover alone does not show.
/// </summary>
public sealed class EffectiveDepth : IRequirement
{
    private const string Shallow = "depth.tolerance.shallow", Deep = "depth.tolerance.deep";

    private static readonly Citation Source = new("ACI 318", SourceMark.Memory, "318-19", "Table 26.6.2.1");

    public string Id => "close-up.effective-depth";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Effective depth of the steel";
    public IReadOnlyList<string> Limits => [Shallow, Deep];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Shallow) is null && matter.Limit(Deep) is null)
        {
            yield return Evidence.NotAsked(this, matter, unit, Shallow, Source);
            yield break;
        }

        if (matter.File.Last<CloseUpInspected>() is not { } inspection)
        {
            yield return Evidence.NoCloseUp(this, matter);
            yield break;
        }

        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Source) with { Used = [inspection.Id] };
            yield break;
        }

        var marks = drawing.Fact.Bars.Where(b => b.DepthIn is not null).ToList();
        if (marks.Count == 0) yield return Matter.Finding(this, unit, Verdict.NotApplicable, "The drawing states no effective depth.", Evidence.Of(drawing)) with { Used = [drawing.Id] };
        foreach (var mark in marks)
        {
            var depth = mark.DepthIn!.Value;
            var subject = $"{unit} bar mark {mark.BarMark} depth {depth.Text} in";
            var key = depth.Value <= Placing.Aci318ShallowIn ? Shallow : Deep;
            if (matter.Limit(key) is not { } tolerance)
            {
                yield return matter.NoLimit(this, subject, key);
                continue;
            }

            var readings = inspection.Fact.Covers.Where(c => c.BarMark == mark.BarMark).ToList();
            if (readings.Count == 0 || readings.Exists(r => r.DepthIn is null))
            {
                yield return Matter.Finding(this, subject, Verdict.Missing, $"The effective depth of bar mark {mark.BarMark} was not measured.", tolerance.Source) with
                {
                    Limit = tolerance.Printed, LimitConfirmed = tolerance.ConfirmedBy is not null,
                    Clear = "The plant inspector measures it before the form closes.", Used = [inspection.Id, drawing.Id],
                };
                continue;
            }

            var far = readings.MaxBy(r => Math.Abs(r.DepthIn!.Value.Value - depth.Value))!;
            var observed = far.DepthIn!.Value;
            var met = Math.Abs(observed.Value - depth.Value) <= tolerance.Value.Value;
            yield return matter.Against(this, subject, tolerance, met, $"{far.Place}, bar mark {mark.BarMark}: depth {observed.Text} in measured, {depth.Text} in drawn.", observed.Text + " in") with
            {
                Rounding = "compared as read",
                Clear = met ? "" : "The crew moves the steel and the inspector measures again, or the engineer of record decides on the strength that is left.",
                Used = [inspection.Id, drawing.Id, matter.Profile!.Id],
            };
        }
    }
}
