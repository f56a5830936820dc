using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Time from first contact of water and cement to the end of discharge, by the contract's limit or, where that leaves it to the
/// producer, by the ticket's. Needs: placement, batch ticket. The two times come
/// from two stations, so their clocks' uncertainty counts. A placement that names several batches ends with the last of
/// them: over the limit it does not say which batch was late.
/// </summary>
public sealed class Discharge : IRequirement
{
    private const string Minutes = "discharge.minutes";

    private static readonly Citation Source = new("ASTM C94/C94M", SourceMark.Published, "editions before C94/C94M-21", "10.7");

    public string Id => "place.discharge";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Time to discharge";
    public IReadOnlyList<string> Limits => [Minutes];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerBatch(this, matter, Source, ticket => Ticket(matter, ticket));

    private IEnumerable<Finding> Ticket(Matter matter, Entry<BatchTicketed> ticket)
    {
        var subject = ticket.Fact.About.Key;
        if ((matter.Limit(Minutes) ?? Producers(matter, ticket)) is not { } limit)
        {
            yield return matter.NoLimit(this, subject, Minutes) with { Used = [ticket.Id] };
            yield break;
        }

        Guid[] by = limit.Source.Mark == SourceMark.Recorded ? [ticket.Id] : [ticket.Id, matter.Profile!.Id];
        var charged = ticket.Clocked(ticket.Fact.ChargedAt);
        foreach (var pour in matter.File.Placements.Where(p => p.Row.Batch.Subject == ticket.Fact.About).Select(p => p.Pour).DistinctBy(p => p.Id))
        {
            var finished = pour.Clocked(pour.Fact.FinishedAt);
            var minutes = (decimal)(finished.At - charged.At).Ticks / TimeSpan.TicksPerMinute;
            var blur = string.Equals(charged.Clock, finished.Clock, StringComparison.Ordinal) ? 0 : (decimal)(charged.Uncertainty + finished.Uncertainty).Ticks / TimeSpan.TicksPerMinute;
            var several = pour.Fact.Rows.Select(r => r.Batch.Subject).Distinct().Count() > 1;
            var observed = $"{Matter.Text(decimal.Round(minutes, 1))} min";
            var (verdict, reason) = (minutes - limit.Value.Value, several) switch
            {
                _ when minutes < -blur => (Verdict.CannotTell, "By the records the pour ended before the batch was charged."),
                ( <= 0, _) when minutes + blur <= limit.Value.Value => (Verdict.Met, $"Discharged within {observed} of the first contact of water and cement."),
                var (over, _) when Math.Abs(over) <= blur => (Verdict.CannotTell, $"{observed}: within the uncertainty of the two stations' clocks at the limit."),
                (_, true) => (Verdict.CannotTell, $"{observed} to the end of a placement of several batches: the record does not say which batch was late."),
                _ => (Verdict.NotMet, $"Discharged {observed} after the first contact of water and cement."),
            };
            yield return matter.Against(this, subject, limit, verdict == Verdict.Met, reason, observed) with
            {
                Verdict = verdict,
                Rounding = "compared as measured",
                Clear = verdict == Verdict.Met ? "" : "The quality engineer decides on the batch; the pour crew corrects the times if they are wrong.",
                LimitConfirmed = limit.ConfirmedBy is not null || limit.Source.Mark == SourceMark.Recorded,
                Used = [pour.Id, .. by],
            };
        }
    }

    // Where the contract states none and leaves it to the producer, the ticket does: ASTM C94/C94M-21, 6.1.10 (published).
    private static Limit? Producers(Matter matter, Entry<BatchTicketed> ticket) =>
        matter.Edition("discharge-time") == "producer" && ticket.Fact.DischargeLimitMin is { } minutes
            ? new(Minutes, minutes, "min", $"{minutes.Text} min, set by the producer", new($"Batch ticket {ticket.Fact.Batch.Ticket}", SourceMark.Recorded), LimitRank.PlantPlan)
            : null;
}
