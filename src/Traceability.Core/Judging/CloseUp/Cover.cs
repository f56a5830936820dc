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

    /// <summary>Its id, for those who look up its findings.</summary>
    internal const string RequirementId = "close-up.cover";

    public string Id => RequirementId;
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Cover of the steel";
    public IReadOnlyList<string> Limits => [Shallow, Deep, Soffit, Share, Increase];

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
            yield return Evidence.NoDrawing(this, matter, Source) with { Used = [inspection.Id] };
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

        // A reading under a mark the drawing does not have may be the low one of another mark; it is not dropped.
        foreach (var stray in inspection.Fact.Covers.Where(c => drawing.Fact.Bars.All(b => b.BarMark != c.BarMark)))
        {
            yield return Matter.Finding(this, $"{unit} {stray.Place} bar mark {stray.BarMark}", Verdict.CannotTell, $"{stray.Place}: {stray.CoverIn.Text} in was read for bar mark {stray.BarMark}, which the drawing does not have.", Source)
                with { Observed = stray.CoverIn.Text + " in", Clear = "The inspector corrects the bar mark of the reading.", Used = [inspection.Id, drawing.Id] };
        }
    }

    internal static string SubjectOf(Dossiers.UnitFile file, BarLine mark, CoverReading reading) => $"{file.Unit.Key} {reading.Place} bar mark {mark.BarMark}";

    private Finding Reading(Matter matter, BarLine mark, CoverReading reading)
    {
        var subject = SubjectOf(matter.File, mark, reading);
        // The drawing's depth decides the row of the table; a measured one stands in where the drawing gives none.
        var depth = mark.DepthIn ?? reading.DepthIn;
        var key = mark.Face == CoverFace.FormedSoffit ? Soffit : depth is { } d && d.Value > ShallowDepthIn ? Deep : Shallow;
        if (matter.Limit(key) is not { } reduction) return matter.NoLimit(this, subject, key);
        var specified = mark.CoverIn.Value;
        var smallest = Smallest(matter, specified, reduction);
        var largest = matter.Limit(Increase) is { } increase ? specified + increase.Value.Value : (decimal?)null;
        var observed = reading.CoverIn.Value;
        var met = observed >= smallest && (largest is null || observed <= largest);
        var words = observed < smallest ? "too little cover" : met ? "inside the tolerance" : "too much cover, the steel lies too deep";
        var finding = matter.Against(this, subject, reduction, met, $"{reading.Place}, bar mark {mark.BarMark}: {reading.CoverIn.Text} in, {words}.", reading.CoverIn.Text + " in") with
        {
            Limit = $"{mark.CoverIn.Text} in specified, at least {Matter.Text(decimal.Round(smallest, 4))} in" + (largest is { } l ? $", at most {Matter.Text(l)} in" : ""),
            Rounding = "compared as read",
            Clear = met ? "" : "The crew moves the steel and the inspector measures again before the form closes.",
        };
        // Too little for a shallow section and enough for a deep one: the depth decides, and nobody stated it.
        return key == Shallow && depth is null && observed < smallest && matter.Limit(Deep) is { } deep && observed >= Smallest(matter, specified, deep)
            ? finding with
            {
                Verdict = Verdict.Missing,
                Reason = $"{reading.Place}, bar mark {mark.BarMark}: {reading.CoverIn.Text} in is too little if the effective depth is {Matter.Text(ShallowDepthIn)} in or less, and no depth is stated.",
                Clear = "The inspector measures the depth, or the quality engineer records it from the drawing.",
            }
            : finding;
    }

    /// <summary>Least cover allowed, inches: the specified cover less the smaller of the tolerance and the share of the cover the profile names.</summary>
    private static decimal Smallest(Matter matter, decimal specifiedIn, Limit reduction) =>
        Concrete.Bars.LeastCoverIn(specifiedIn, reduction.Value.Value, matter.Limit(Share)?.Value.Value);
}
