using Traceability.PlantSimulator.Story;

namespace Traceability.PlantSimulator.Acting;

/// <summary>What became of one fact of the story.</summary>
public sealed record Acted(StoryFact Fact, Receipt Receipt);

/// <summary>Acts the stations: journals, sends in the order of arrival, waits until all is recorded.</summary>
public sealed class Actor(ServiceClient client, Journal journal)
{
    private const int LargestBatch = 50;

    /// <summary>Neighbouring facts of one station go as one batch, a lone fact as a single event.</summary>
    public async Task<IReadOnlyList<Acted>> ActAsync(IEnumerable<StoryFact> facts, CancellationToken cancel)
    {
        var acted = new List<Acted>();
        foreach (var batch in Batches(facts))
        {
            journal.Write(batch.Select(f => Intent.Of(f.Event, f.Device)));
            var receipts = await client.RecordAsync(batch[0].Device, [.. batch.Select(f => f.Event)], cancel);
            var refused = batch.Where((f, i) => receipts[i].IsRefused).Select(f => Intent.Of(f.Event, f.Device) with { Refused = true }).ToList();
            if (refused.Count > 0) journal.Write(refused);
            acted.AddRange(batch.Select((f, i) => new Acted(f, receipts[i])));
        }

        return acted;
    }

    private static IEnumerable<List<StoryFact>> Batches(IEnumerable<StoryFact> facts)
    {
        var batch = new List<StoryFact>();
        foreach (var fact in facts)
        {
            // Two contents under one id go in two requests, as they would from a station.
            if (batch.Count > 0 && (batch[0].Device != fact.Device || batch.Count == LargestBatch || batch.Exists(b => b.Event.RecordId == fact.Event.RecordId)))
            {
                yield return batch;
                batch = [];
            }

            batch.Add(fact);
        }

        if (batch.Count > 0) yield return batch;
    }
}
