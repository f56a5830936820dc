using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// Every cover reading is inside the drawing's cover and the profile's tolerance. Needs: drawing, close-up inspection.
/// The allowed reduction is the smaller of the profile's figure (by effective depth, or for a formed soffit) and a share
/// of the specified cover; the allowed increase is a figure of the profile where it has one.
/// </summary>
public sealed class Cover : IRequirement
{
    /// <summary>Effective depth up to which the tighter reduction applies, inches. ACI 318-19 Table 26.6.2.1, from memory.</summary>
    private const decimal ShallowDepthIn = 8m;

    private const string Shallow = "cover.reduction.shallow", Deep = "cover.reduction.deep", Soffit = "cover.reduction.soffit",
        Share = "cover.reduction.share-divisor", Increase = "cover.increase";

    private static readonly Citation Source = new("ACI 318", SourceMark.Memory, "318-19", "26.6.2.1");

    public string Id => "close-up.cover";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Cover of the steel";
    public IReadOnlyList<string> Limits => [Shallow, Deep, Soffit, Share, Increase];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<CloseUpInspected>() is not { } inspection)
        {
            yield return Matter.Finding(this, unit, Verdict.Pending, "The close-up inspection has not been recorded.", Source)
                with { Clear = "The plant inspector measures cover before the form closes.", SetAside = matter.Unused<CloseUpInspected>() };
            yield break;
        }

        if (matter.File.Drawing is not { } drawing)
        {
            yield return Matter.Finding(this, unit, Verdict.Missing, "The drawing revision of this unit is not recorded.", Source)
                with { Clear = "The quality engineer records the approved drawing.", Used = [inspection.Id] };
            yield break;
        }

        foreach (var mark in drawing.Fact.Bars)
        {
            var readings = inspection.Fact.Covers.Where(c => c.BarMark == mark.BarMark).ToList();
            if (readings.Count == 0)
            {
                yield return Matter.Finding(this, $"{unit} bar mark {mark.BarMark}", Verdict.Missing, $"No cover reading for bar mark {mark.BarMark}.", Source)
                    with { Clear = "The plant inspector measures it before the form closes.", Used = [inspection.Id, drawing.Id] };
            }

            foreach (var reading in readings)
                yield return Reading(matter, mark, reading) with { Used = [inspection.Id, drawing.Id, matter.Profile?.Id ?? inspection.Id] };
        }
    }

    private Finding Reading(Matter matter, BarLine mark, CoverReading reading)
    {
        var subject = $"{matter.File.Unit.Key} {reading.Place}";
        var key = mark.Face == CoverFace.FormedSoffit ? Soffit : (reading.DepthIn ?? mark.DepthIn) is { } depth && depth.Value <= ShallowDepthIn ? Shallow : Deep;
        if (matter.Limit(key) is not { } reduction) return matter.NoLimit(this, subject, key);
        var specified = mark.CoverIn.Value;
        var allowed = reduction.Value.Value;
        if (matter.Limit(Share) is { } share && share.Value.Value > 0 && specified < allowed * share.Value.Value) allowed = specified / share.Value.Value;
        var smallest = specified - allowed;
        var largest = matter.Limit(Increase) is { } increase ? specified + increase.Value.Value : (decimal?)null;
        var observed = reading.CoverIn.Value;
        var limit = $"{mark.CoverIn.Text} in specified, at least {Matter.Text(decimal.Round(smallest, 4))} in" + (largest is { } l ? $", at most {Matter.Text(l)} in" : "");
        var met = observed >= smallest && (largest is null || observed <= largest);
        var words = observed < smallest ? "too little cover" : met ? "inside the tolerance" : "too much cover, the steel lies too deep";
        return matter.Against(this, subject, reduction, met, $"{reading.Place}, bar mark {mark.BarMark}: {reading.CoverIn.Text} in, {words}.", reading.CoverIn.Text + " in") with
        {
            Limit = limit,
            Rounding = "compared as read",
            Clear = met ? "" : "The crew moves the steel and the inspector measures again before the form closes.",
        };
    }
}
