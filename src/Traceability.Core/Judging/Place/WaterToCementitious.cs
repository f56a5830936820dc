using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Water to cementitious materials as batched is not above the mix's largest ratio. Needs: placement, batch ticket, mix.
/// Water is what was metered, what was added later, and the free water of every aggregate on its oven-dry mass. On the
/// probe's moisture it is provisional: the laboratory's figures, sent as a correction of the ticket, settle it.
/// </summary>
public sealed class WaterToCementitious : IRequirement
{
    private static readonly Citation Source = new("ACI 318", SourceMark.Memory, "318-19", "19.3.2.1");

    public string Id => "place.w-cm";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Water to cementitious materials";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerBatch(this, matter, Source, ticket => [Ticket(matter, ticket)]);

    private Finding Ticket(Matter matter, Entry<BatchTicketed> ticket)
    {
        var fact = ticket.Fact;
        var subject = fact.About.Key;
        if (Evidence.MixInForce(matter, fact.Mix, fact.Batch.Date) is not { } mix)
        {
            return Matter.Finding(this, subject, Verdict.Missing, $"No approval of mix {fact.Mix}, which states the largest ratio, was in force on {fact.Batch.Date:yyyy-MM-dd}.", Source)
                with { Clear = "The quality engineer records the approval.", Used = [ticket.Id], SetAside = matter.Unused<MixApproved>() };
        }

        var source = Evidence.Of(mix);
        var cementitious = fact.Ingredients.Where(i => i.Material is Material.Cement or Material.SupplementaryCementitious).Sum(i => i.BatchedLb.Value);
        var aggregates = fact.Ingredients.Where(i => i.Material is Material.FineAggregate or Material.CoarseAggregate).ToList();
        var unmeasured = aggregates.FirstOrDefault(a => a.MoisturePct is not { Value: >= 0 } || a.AbsorptionPct is not { Value: >= 0 });
        if (cementitious <= 0 || aggregates.Count == 0 || unmeasured is not null)
        {
            var why = cementitious <= 0 ? "The ticket shows no cementitious material." : unmeasured is { } u ? $"Moisture or absorption of {u.Name} is not on the ticket." : "The ticket shows no aggregate.";
            return Matter.Finding(this, subject, Verdict.Missing, why, source)
                with { Limit = $"at most {mix.Fact.MaxWcm.Text}", LimitConfirmed = true, Clear = "The batch operator corrects the ticket.", Used = [ticket.Id, mix.Id] };
        }

        var free = aggregates.Sum(a => BatchWater.FreeWater(a.BatchedLb.Value, a.MoisturePct!.Value.Value, a.AbsorptionPct!.Value.Value));
        var water = fact.WaterBatchedLb.Value + (fact.WaterAddedLaterLb?.Value ?? 0) + free;
        var ratio = BatchWater.WaterToCementitious(water, cementitious);
        var compared = Rounding.ForLimit(ratio, mix.Fact.MaxWcm, matter.Rounding);
        var met = compared <= mix.Fact.MaxWcm.Value;
        var probe = fact.MoistureBasis == MoistureBasis.Probe;
        var verdict = !met ? Verdict.NotMet : probe ? Verdict.Provisional : Verdict.Met;
        return Matter.Finding(this, subject, verdict,
            $"w/cm {Matter.Text(decimal.Round(ratio, 4))} on {(probe ? "the probe's" : "the laboratory's")} moisture: {Matter.Text(decimal.Round(water, 1))} lb of water, {Matter.Text(cementitious)} lb of cementitious materials.", source) with
        {
            Limit = $"at most {mix.Fact.MaxWcm.Text}",
            LimitConfirmed = true,
            Observed = Matter.Text(decimal.Round(ratio, 4)),
            Rounding = matter.RoundingText(mix.Fact.MaxWcm),
            Clear = verdict switch
            {
                Verdict.NotMet => "The quality engineer decides on the batch and raises a nonconformance for the unit.",
                Verdict.Provisional => "The laboratory's moisture settles it, as a correction of the ticket.",
                _ => "",
            },
            Used = [ticket.Id, mix.Id],
        };
    }
}
