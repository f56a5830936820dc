using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Aggregates weighed one onto the other: the sum so far inside the tolerance of the sum required so far. Needs: placement, batch ticket.
/// Asked only where the profile says that the plant weighs cumulatively; then the tolerance of the single aggregate does not hold.
/// </summary>
public sealed class AggregatesCumulative : IRequirement
{
    internal const string Asked = "batch.aggregate.cumulative";

    private static readonly Citation Source = new("ASTM C94/C94M", SourceMark.Memory, Clause: "accuracy of weighing aggregates, cumulative");

    public string Id => "place.aggregates-cumulative";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Aggregates weighed cumulatively";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter) => matter.Limit(Asked) is not { Value.Value: > 0 } asked
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Asked, Source)]
        : Evidence.PerBatch(this, matter, Source, ticket => Ticket(matter, ticket, asked));

    private IEnumerable<Finding> Ticket(Matter matter, Entry<BatchTicketed> ticket, Limit asked)
    {
        var order = ticket.Fact.ChargingOrder?.ToList() ?? [];
        // Where the ticket does not tell the order, that of its lines.
        var aggregates = ticket.Fact.Ingredients.Where(i => i.Material is Material.FineAggregate or Material.CoarseAggregate)
            .OrderBy(i => order.IndexOf(i.Name) is var at && at < 0 ? int.MaxValue : at).ToList();
        if (aggregates.Count == 0)
            yield return Matter.Finding(this, ticket.Fact.About.Key, Verdict.Missing, "The ticket shows no aggregate.", asked.Source) with { Clear = "The batch operator corrects the ticket.", Used = [ticket.Id] };

        decimal required = 0, batched = 0;
        foreach (var aggregate in aggregates)
        {
            required += aggregate.TargetLb.Value;
            batched += aggregate.BatchedLb.Value;
            var subject = $"{ticket.Fact.About.Key} up to {aggregate.Name}";
            if (aggregate.ScaleCapacityLb is not { } capacity || required <= 0)
            {
                yield return Matter.Finding(this, subject, Verdict.Missing, $"{aggregate.Name}: the capacity of the scale or the required mass is not on the ticket.", asked.Source)
                    with { Limit = asked.Printed, LimitConfirmed = asked.ConfirmedBy is not null, Clear = "The batch operator corrects the ticket.", Used = [ticket.Id, matter.Profile!.Id] };
                continue;
            }

            var tolerance = Weighing.CumulativeAggregate(required, capacity.Value);
            var off = batched - required;
            var met = Math.Abs(off) <= tolerance;
            yield return matter.Against(this, subject, asked, met, $"Up to {aggregate.Name}: {Matter.Text(batched)} lb batched, {Matter.Text(required)} lb required, {BatchWeights.Signed(off)} lb.", $"{BatchWeights.Signed(off)} lb") with
            {
                Limit = $"+-{Matter.Text(decimal.Round(tolerance, 2))} lb; {asked.Printed}",
                Rounding = "compared as read",
                Clear = met ? "" : "The quality engineer decides on the batch and raises a nonconformance for the unit.",
                Used = [ticket.Id, matter.Profile!.Id],
            };
        }
    }
}
