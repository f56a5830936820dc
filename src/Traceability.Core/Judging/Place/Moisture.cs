using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Place;

/// <summary>A laboratory test of an aggregate's moisture that bears on a batch.</summary>
/// <param name="TotalPct">Total moisture, percent of the oven-dry mass.</param>
/// <param name="Doubts">Why it settles nothing; empty when it does.</param>
internal sealed record Moisture(Entry<AggregateMoistureTested> Entry, decimal TotalPct, IReadOnlyList<string> Doubts)
{
    /// <summary>
    /// How long after the first charge a sample still stands for the batch, minutes: it is taken while the batch is being made. Our own
    /// choice; no document was seen that states one.
    /// </summary>
    private const int WhileCharging = 15;

    /// <summary>
    /// The test of the lot or storage an aggregate was drawn from that stands for a batch: the last sampled on that day before it was
    /// charged or while it was. A later sample is of what came later. Null when there is none.
    /// </summary>
    public static Moisture? For(Matter matter, Entry<BatchTicketed> ticket, Weighed aggregate)
    {
        var last = matter.File.Of<AggregateMoistureTested>()
            .Where(t => ((aggregate.Storage is { } storage && t.Fact.About == Subject.Storage(storage)) || (aggregate.Lot is { } lot && t.Fact.About == lot.Subject))
                && Matter.DayOf(t.Fact.SampledAt) == ticket.Fact.Batch.Date && t.Fact.SampledAt - ticket.Fact.ChargedAt <= TimeSpan.FromMinutes(WhileCharging))
            .OrderBy(t => t.Fact.SampledAt).ThenBy(t => t.Id).LastOrDefault();
        if (last is null) return null;
        var doubts = last.Fact.Instruments.Select(i => matter.InCalibration(i, last.Fact.SampledAt)).Where(c => !c.Valid).Select(c => c.Words).ToList();
        if (last.Fact.Instruments.Count == 0) doubts.Add($"moisture test {last.Fact.Test} names no instrument");
        return new(last, BatchWater.MoisturePct(last.Fact.WetG.Value, last.Fact.DryG.Value), doubts);
    }
}
