using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>The unit has the least age for shipping, from the end of its last pour. Needs: placement; the shipment once it happened.</summary>
public sealed class MinimumAge : IRequirement
{
    private const string Days = "ship.minimum-age";

    private static readonly Citation Source = new("Owners that ask a minimum age", SourceMark.CommonPractice);

    public string Id => "ship.minimum-age";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Least age for shipping";
    public IReadOnlyList<string> Limits => [Days];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Days) is not { } limit)
        {
            yield return matter.NoLimit(this, unit, Days);
            yield break;
        }

        var pour = matter.File.Placements.Select(p => p.Pour).MaxBy(p => p.Clocked(p.Fact.FinishedAt).At);
        if (pour is null)
        {
            yield return Evidence.NoPlacement(this, matter, Source);
            yield break;
        }

        var finished = pour.Clocked(pour.Fact.FinishedAt).At;
        var due = Evidence.Later(finished, TimeSpan.FromTicks((long)(Math.Min(limit.Value.Value, 36500m) * TimeSpan.TicksPerDay)));
        var shipped = matter.File.Of<UnitShipped>().FirstOrDefault();
        if (shipped is null && !matter.HasCome(due))
        {
            yield return Matter.Finding(this, unit, Verdict.Pending, $"The unit is old enough on {due:yyyy-MM-dd HH:mm zzz}.", limit.Source)
                with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null, Clear = "It waits in the yard.", Due = due, Used = [pour.Id, matter.Profile!.Id] };
            yield break;
        }

        var met = shipped is null || shipped.At.At >= due;
        var observed = shipped is null ? $"at least {limit.Value.Text} days" : $"{Matter.Text(decimal.Round((decimal)(shipped.At.At - finished).Ticks / TimeSpan.TicksPerDay, 2))} days at shipment";
        yield return matter.Against(this, unit, limit, met, met ? "The unit was old enough." : $"The unit was shipped before {due:yyyy-MM-dd HH:mm zzz}.", observed) with
        {
            Rounding = "compared as measured",
            Clear = met ? "" : "The quality engineer tells the owner and raises a nonconformance.",
            Used = shipped is null ? [pour.Id, matter.Profile!.Id] : [pour.Id, shipped.Id, matter.Profile!.Id],
        };
    }
}
