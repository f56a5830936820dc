using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// A sampled batch gives the volume its ticket states: all that was weighed and metered over the density. Needs: placement, batch
/// ticket, sample tested. Over-yield is lean concrete. Asked only where the profile has a tolerance.
/// </summary>
public sealed class RelativeYield : IRequirement
{
    private const string Tolerance = "batch.yield";

    private static readonly Citation Source = new("ASTM C138/C138M", SourceMark.Published, "C138/C138M-17a", "yield and relative yield");

    public string Id => "place.yield";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Yield of the batch";
    public IReadOnlyList<string> Limits => [Tolerance];

    public IEnumerable<Finding> Judge(Matter matter) => matter.Limit(Tolerance) is not { } tolerance
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Tolerance, Source)]
        : Evidence.PerSample(this, matter, Source, sample => [Sample(matter, sample, tolerance)]);

    private Finding Sample(Matter matter, Entry<SampleTested> sample, Limit tolerance)
    {
        var subject = sample.Fact.About.Key;
        var ticket = matter.File.Batches.FirstOrDefault(b => b.Fact.Batch == sample.Fact.Batch);
        if (ticket is null) return Targets.NotRead(this, subject, $"The ticket of batch {sample.Fact.Batch.Ticket} is not recorded.", sample, Source);
        if (sample.Fact.DensityLbFt3 is not { } density) return Targets.NotRead(this, subject, "The density was not read.", sample, Source);
        var fact = ticket.Fact;
        var mass = fact.Ingredients.Sum(i => i.BatchedLb.Value) + (fact.HandAdditions ?? []).Sum(h => h.AmountLb.Value) + fact.WaterBatchedLb.Value + FieldWater.Added(matter, ticket).Lb;
        var volume = Yield.Ft3(mass, density.Value) / Yield.Ft3PerYd3;
        var off = (Yield.Relative(volume, fact.VolumeYd3.Value) - 1) * 100;
        var met = Math.Abs(matter.Rounded(off, tolerance)) <= tolerance.Value.Value;
        return matter.Against(this, subject, tolerance, met, $"{Matter.Text(decimal.Round(mass, 1))} lb at {density.Text} lb/ft3 are {Matter.Text(decimal.Round(volume, 3))} yd3; the ticket states {fact.VolumeYd3.Text} yd3.",
            $"relative yield {Matter.Text(decimal.Round(1 + off / 100, 3))}") with
        {
            Clear = met ? "" : "The batch operator checks scales and moisture; the quality engineer decides on the concrete.",
            Used = [sample.Id, ticket.Id, matter.Profile!.Id],
        };
    }
}
