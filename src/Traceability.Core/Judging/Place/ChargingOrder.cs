using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Ingredients were charged in the order the mix prescribes. Needs: placement, batch ticket, mix. Another order is a question:
/// what it did to the concrete is for the quality engineer to say.
/// </summary>
public sealed class ChargingOrder : IRequirement
{
    private static readonly Citation Source = new("Charging order of the approved mix", SourceMark.CommonPractice);

    public string Id => "place.charging-order";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Charging order";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerBatch(this, matter, Source, ticket => [Ticket(matter, ticket)]);

    private Finding Ticket(Matter matter, Entry<BatchTicketed> ticket)
    {
        var subject = ticket.Fact.About.Key;
        if (Evidence.MixInForce(matter, ticket.Fact.Mix, ticket.Fact.Batch.Date) is not { } mix)
        {
            return Matter.Finding(this, subject, Verdict.Missing, $"No approval of mix {ticket.Fact.Mix}, which may prescribe an order, was in force on {ticket.Fact.Batch.Date:yyyy-MM-dd}.", Source)
                with { Clear = "The quality engineer records the approval.", Used = [ticket.Id], SetAside = matter.Unused<MixApproved>() };
        }

        Guid[] used = [ticket.Id, mix.Id];
        if (mix.Fact.ChargingOrder is not { Count: > 0 } wanted) return Matter.Finding(this, subject, Verdict.NotApplicable, "The mix prescribes no order.", Evidence.Of(mix)) with { Used = used };
        var (verdict, reason) = ticket.Fact.ChargingOrder switch
        {
            null or { Count: 0 } => (Verdict.Missing, "The ticket does not tell the order."),
            { } told when told.SequenceEqual(wanted, StringComparer.OrdinalIgnoreCase) => (Verdict.Met, "Charged in the order of the mix."),
            _ => (Verdict.CannotTell, "Charged in another order than the mix prescribes; a question for the quality engineer."),
        };
        return Matter.Finding(this, subject, verdict, reason, Evidence.Of(mix)) with
        {
            Limit = string.Join(", ", wanted),
            LimitConfirmed = true,
            Observed = string.Join(", ", ticket.Fact.ChargingOrder ?? []),
            Clear = verdict == Verdict.Met ? "" : "The batch operator completes the ticket, or the quality engineer decides on the batch.",
            Used = used,
        };
    }
}
