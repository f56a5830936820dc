using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Density of every sample near the mix's. Needs: placement, sample tested, batch ticket, mix. Asked only where the profile has
/// a tolerance.
/// </summary>
public sealed class DensityOfMix : IRequirement
{
    private const string Tolerance = "fresh.density";

    private static readonly Citation Source = new("ASTM C138/C138M", SourceMark.Published);

    public string Id => "place.density";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Density of the fresh concrete";
    public IReadOnlyList<string> Limits => [Tolerance];

    public IEnumerable<Finding> Judge(Matter matter) => matter.Limit(Tolerance) is not { } tolerance
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Tolerance, Source)]
        : Evidence.PerSample(this, matter, Source, sample => [Sample(matter, sample, tolerance)]);

    private Finding Sample(Matter matter, Entry<SampleTested> sample, Limit tolerance)
    {
        var subject = sample.Fact.About.Key;
        if (Targets.MixOf(matter, sample) is not { } mix) return Targets.NoMix(this, matter, subject, sample, Source);
        if (mix.Fact.DensityLbFt3 is not { } target) return Targets.NotRead(this, subject, "The mix states no density.", sample, Source);
        if (sample.Fact.DensityLbFt3 is not { } density) return Targets.NotRead(this, subject, "The density was not read.", sample, Source);
        var off = (density.Value - target.Value) / target.Value * 100;
        var met = Math.Abs(matter.Rounded(off, tolerance)) <= tolerance.Value.Value;
        return matter.Against(this, subject, tolerance, met, $"Density {density.Text} lb/ft3, {target.Text} lb/ft3 by the mix.", $"{density.Text} lb/ft3, {BatchWeights.Signed(decimal.Round(off, 2))} %") with
        {
            Clear = met ? "" : "The laboratory looks at air and yield; the quality engineer decides on the concrete.",
            Used = [sample.Id, mix.Id, matter.Profile!.Id],
        };
    }
}
