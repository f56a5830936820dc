using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Batched water inside its tolerance: a share of the target batch water or, where the profile chose an edition before
/// C94/C94M-21a, of all mixing water. Needs: placement, batch ticket.
/// </summary>
public sealed class WaterWeighed : IRequirement
{
    private const string Tolerance = "batch.water";

    private static readonly Citation Source = new("ASTM C94/C94M", SourceMark.Published, "C94/C94M-21a and later", "accuracy of batch water");

    public string Id => "place.batch-water";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Water of the batch";
    public IReadOnlyList<string> Limits => [Tolerance];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerBatch(this, matter, Source, ticket => [Ticket(matter, ticket)]);

    private Finding Ticket(Matter matter, Entry<BatchTicketed> ticket)
    {
        var subject = ticket.Fact.About.Key;
        if (matter.Limit(Tolerance) is not { } limit) return matter.NoLimit(this, subject, Tolerance) with { Used = [ticket.Id] };
        Guid[] used = [ticket.Id, matter.Profile!.Id];
        var target = ticket.Fact.WaterTargetLb;
        var batched = ticket.Fact.WaterBatchedLb;
        if (target.Value <= 0)
        {
            return Matter.Finding(this, subject, Verdict.Missing, "No target batch water is on the ticket.", limit.Source)
                with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null, Clear = "The batch operator corrects the ticket.", Used = used };
        }

        var allowed = Band.Percent(target.Value, limit.Value.Value);
        if (matter.Edition("astm-c94") == "before-21a")
        {
            if (FreeByDesign(ticket.Fact) is not { } free)
            {
                return Matter.Finding(this, subject, Verdict.Missing, "Moisture or absorption of an aggregate is not on the ticket, so the total mixing water is not known.", limit.Source)
                    with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null, Clear = "The batch operator corrects the ticket.", Used = used };
            }

            allowed = Band.Around(target.Value, (target.Value + free) * limit.Value.Value / 100);
        }

        var met = allowed.Holds(batched.Value);
        var deviation = BatchWeights.Signed(decimal.Round(Weighing.DeviationPct(target.Value, batched.Value), 3));
        return matter.Against(this, subject, limit, met, $"{batched.Text} lb of water batched, {target.Text} lb target, {deviation} %.", $"{batched.Text} lb, {deviation} %") with
        {
            Rounding = "compared as read",
            Clear = met ? "" : "The quality engineer decides on the batch and raises a nonconformance for the unit.",
            Used = used,
        };
    }

    // Aggregates as they were to be weighed: the tolerance is a share of the mixing water as designed. Null when it cannot be said.
    private static decimal? FreeByDesign(BatchTicketed ticket)
    {
        var aggregates = ticket.Ingredients.Where(i => i.Material is Material.FineAggregate or Material.CoarseAggregate).ToList();
        return aggregates.Exists(a => a.MoisturePct is not { Value: >= 0 } || a.AbsorptionPct is not { Value: >= 0 }) ? null
            : aggregates.Sum(a => BatchWater.FreeWater(a.TargetLb.Value, a.MoisturePct!.Value.Value, a.AbsorptionPct!.Value.Value));
    }
}
