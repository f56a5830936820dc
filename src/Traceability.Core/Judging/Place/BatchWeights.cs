using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Every weighed ingredient inside its tolerance of the required mass. Needs: placement, batch ticket. Cementitious material
/// below a share of the scale's capacity may only be over; without the capacity nobody can say which rule holds.
/// </summary>
public sealed class BatchWeights : IRequirement
{
    private const string Cementitious = "batch.cementitious", SmallShare = "batch.cementitious.small-share", SmallOver = "batch.cementitious.small-over",
        Aggregate = "batch.aggregate", Admixture = "batch.admixture";

    private static readonly Citation Source = new("ASTM C94/C94M", SourceMark.Memory, Clause: "accuracy of batching");

    public string Id => "place.batch-weights";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Weights of the batch";
    public IReadOnlyList<string> Limits => [Cementitious, SmallShare, SmallOver, Aggregate, Admixture];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerBatch(this, matter, Source, ticket => Ticket(matter, ticket));

    private IEnumerable<Finding> Ticket(Matter matter, Entry<BatchTicketed> ticket) =>
        ticket.Fact.Ingredients.Select(i => Ingredient(matter, $"{ticket.Fact.About.Key} {i.Name}", i) with { Used = matter.Profile is { } p ? [ticket.Id, p.Id] : [ticket.Id] });

    private Finding Ingredient(Matter matter, string subject, Weighed weighed)
    {
        var key = weighed.Material switch
        {
            Material.Cement or Material.SupplementaryCementitious => Cementitious,
            Material.FineAggregate or Material.CoarseAggregate => Aggregate,
            Material.Admixture => Admixture,
            _ => null,
        };
        if (key is null)
        {
            return Matter.Finding(this, subject, Verdict.CannotTell, $"{weighed.Name} is no ingredient of concrete by its material, so no tolerance applies.", Source)
                with { Clear = "The batch operator corrects the material on the ticket." };
        }

        if (matter.Limit(key) is not { } limit) return matter.NoLimit(this, subject, key);
        if (key == Aggregate && matter.Limit(AggregatesCumulative.Asked) is { Value.Value: > 0 } cumulative)
            return Matter.Finding(this, subject, Verdict.NotApplicable, $"{weighed.Name} is weighed onto what is on the scale: the sum is judged.", cumulative.Source);
        var required = weighed.TargetLb.Value;
        if (required <= 0) return Incomplete(limit, subject, $"{weighed.Name}: no required mass is on the ticket.");
        var (least, greatest) = Weighing.Either(required, limit.Value.Value);
        if (key == Cementitious)
        {
            if (matter.Limit(SmallShare) is not { } share) return matter.NoLimit(this, subject, SmallShare);
            if (matter.Limit(SmallOver) is not { } over) return matter.NoLimit(this, subject, SmallOver);
            if (weighed.ScaleCapacityLb is not { } capacity) return Incomplete(limit, subject, $"{weighed.Name}: the capacity of the scale is not on the ticket, so nobody can say which tolerance holds.");
            if (required * 100 < capacity.Value * share.Value.Value) limit = over;
            (least, greatest) = Weighing.Cementitious(required, capacity.Value, limit.Value.Value, share.Value.Value, over.Value.Value);
        }

        var batched = weighed.BatchedLb.Value;
        var met = batched >= least && batched <= greatest;
        var deviation = decimal.Round(Weighing.DeviationPct(required, batched), 3);
        return matter.Against(this, subject, limit, met, $"{weighed.Name}: {weighed.BatchedLb.Text} lb batched, {weighed.TargetLb.Text} lb required, {Signed(deviation)} %.", $"{weighed.BatchedLb.Text} lb, {Signed(deviation)} %") with
        {
            Rounding = "compared as read",
            Clear = met ? "" : "The quality engineer decides on the batch and raises a nonconformance for the unit.",
        };
    }

    private Finding Incomplete(Limit limit, string subject, string reason) =>
        Matter.Finding(this, subject, Verdict.Missing, reason, limit.Source)
            with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null, Clear = "The batch operator corrects the ticket." };

    internal static string Signed(decimal value) => (value > 0 ? "+" : "") + Matter.Text(value);
}
