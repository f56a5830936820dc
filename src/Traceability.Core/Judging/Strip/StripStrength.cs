using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Strip;

/// <summary>
/// Mean strength of every strip set, cured with the unit and broken before the strip, reaches the drawing's strip strength.
/// A dry-cast unit is stripped at once; verified maturity may stand for a set where the profile
/// permits it. Needs: drawing, placement, sample tested, cylinders broken, person certified, instrument calibrated. A set broken low may
/// be waited with and broken again.
/// </summary>
public sealed class StripStrength : IRequirement
{
    private const string Cylinders = "strip.cylinders";

    private static readonly Citation Source = new("Strength before stripping", SourceMark.CommonPractice);

    public string Id => "strip.strength";
    public HoldKind Hold => HoldKind.Strip;
    public string Title => "Strength before stripping";
    public IReadOnlyList<string> Limits => [Cylinders, .. VerifiedMaturity.Limits, .. CylinderSet.Limits];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Source);
            yield break;
        }

        if (matter.File.Mix is { Fact.DryCast: true } dry)
        {
            yield return Matter.Finding(this, matter.File.Unit.Key, Verdict.NotApplicable, "Dry-cast concrete is stripped at once.", Evidence.Of(dry)) with { Used = [dry.Id, drawing.Id] };
            yield break;
        }

        var required = drawing.Fact.StripStrengthPsi;
        var matured = VerifiedMaturity.Judge(this, matter, drawing, required);
        if (matured is not null) yield return matured;
        foreach (var (sample, set) in Sets(matter, required.Value))
        {
            // Maturity stands in for a set that was not broken, never for one that was low.
            if (matured is { Verdict: Verdict.Met } && set is { Verdict: Verdict.Pending or Verdict.Missing, MeanPsi: null })
                yield return Matter.Finding(this, $"{sample.Fact.About.Key} strip set", Verdict.NotApplicable, "Not broken; the unit's verified maturity stands for it.", matured.Source) with { Used = [sample.Id, .. matured.Used] };
            else
                yield return set is null
                ? matter.NoLimit(this, sample.Fact.About.Key, Cylinders)
                : set.Finding(this, matter, $"{sample.Fact.About.Key} strip set", drawing, drawing.Fact.StripStrengthPsi, "The laboratory breaks the strip set; if it is low the crew waits and breaks again. Nobody lifts before.");
        }

        if (!Samples(matter).Any() && matured is not { Verdict: Verdict.Met })
            yield return Evidence.Absent<SampleTested>(this, matter, matter.File.Unit.Key, "No strip cylinders of concrete in this unit are recorded.", "The laboratory records the sample with its strip cylinders.", Source) with { Used = [drawing.Id] };
    }

    /// <summary>The strip sets of the unit against a strength; the set is null where the profile does not say how many cylinders it takes.</summary>
    internal static IEnumerable<(Entry<SampleTested> Sample, CylinderSet? Set)> Sets(Matter matter, decimal requiredPsi)
    {
        var stripped = matter.File.Of<UnitStripped>().FirstOrDefault();
        foreach (var sample in Samples(matter))
        {
            var set = CylinderSet.Fewest(matter, Cylinders) is { } fewest
                ? CylinderSet.Judge(matter, sample, CylinderPurpose.Strip, new SetDemand(requiredPsi, fewest, CuredWithUnit: true, stripped?.At, "the unit was stripped"))
                : null;
            yield return (sample, set);
        }
    }

    internal static IEnumerable<Entry<SampleTested>> Samples(Matter matter) =>
        matter.File.RepresentingSamples.Where(s => s.Fact.Cylinders.Any(c => c.Purpose == CylinderPurpose.Strip));
}
