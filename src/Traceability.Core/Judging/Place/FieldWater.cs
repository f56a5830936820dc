using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Water added to a batch after batching is not more than the profile allows for a cubic yard. Needs: placement, batch ticket,
/// water added. Asked only where the profile has the limit; 0 forbids any. What it does to w/cm is judged there.
/// </summary>
public sealed class FieldWater : IRequirement
{
    private const string Most = "batch.field-water";

    private static readonly Citation Source = new("Water added after batching", SourceMark.CommonPractice);

    public string Id => "place.field-water";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Water added in the field";
    public IReadOnlyList<string> Limits => [Most];

    public IEnumerable<Finding> Judge(Matter matter) => matter.Limit(Most) is not { } limit
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Most, Source)]
        : Evidence.PerBatch(this, matter, Source, ticket => [Ticket(matter, ticket, limit)]);

    private Finding Ticket(Matter matter, Entry<BatchTicketed> ticket, Limit limit)
    {
        var (water, records) = Added(matter, ticket);
        var each = water / ticket.Fact.VolumeYd3.Value;
        var met = matter.Rounded(each, limit) <= limit.Value.Value;
        return matter.Against(this, ticket.Fact.About.Key, limit, met, water == 0 ? "No water was added after batching." : $"{Matter.Text(water)} lb of water was added to {ticket.Fact.VolumeYd3.Text} yd3 after batching.", $"{Matter.Text(decimal.Round(each, 2))} lb/yd3") with
        {
            Clear = met ? "" : "The quality engineer decides on the batch and raises a nonconformance for the unit.",
            Used = [ticket.Id, matter.Profile!.Id, .. records],
        };
    }

    /// <summary>
    /// Water added after batching, pounds, by the ticket and by what stations reported. They are added up: that one of them
    /// repeats the other cannot be seen, and the wetter figure is the safe one.
    /// </summary>
    internal static (decimal Lb, IReadOnlyList<Guid> Records) Added(Matter matter, Entry<BatchTicketed> ticket)
    {
        var added = matter.File.Of<WaterAdded>().Where(w => w.Fact.About == ticket.Fact.About).ToList();
        return ((ticket.Fact.WaterAddedLaterLb?.Value ?? 0) + added.Sum(w => w.Fact.WaterLb.Value), [.. added.Select(w => w.Id)]);
    }
}
