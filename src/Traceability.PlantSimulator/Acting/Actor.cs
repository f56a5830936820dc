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
        foreach (var batch in Batches(facts, () => LargestBatch))
        {
            journal.Write(batch.Select(f => Intent.Of(f.Event, f.Device)));
            var receipts = await client.RecordAsync(batch[0].Device, [.. batch.Select(f => f.Event)], cancel);
            Refused(batch, receipts);
            acted.AddRange(batch.Select((f, i) => new Acted(f, receipts[i])));
        }

        return acted;
    }

    /// <summary>
    /// All stations at once, each sending its own facts in its own order in batches of any small size. Returns when the
    /// service has answered for every fact, recorded or not: a sender may rely on that answer.
    /// </summary>
    public async Task<IReadOnlyList<Acted>> PostAsync(IEnumerable<StoryFact> facts, int seed, TimeSpan pause, CancellationToken cancel)
    {
        var stations = facts.GroupBy(f => f.Device, StringComparer.Ordinal).Select((station, n) => Task.Run(async () =>
        {
            var random = new Random(HashCode.Combine(seed, n));
            var acted = new List<Acted>();
            foreach (var batch in Batches(station, () => random.Next(1, 8)))
            {
                journal.Write(batch.Select(f => Intent.Of(f.Event, f.Device)));
                var receipts = await client.SendAsync(batch[0].Device, [.. batch.Select(f => f.Event)], cancel);
                Refused(batch, receipts);
                acted.AddRange(batch.Select((f, i) => new Acted(f, receipts[i])));
                await Task.Delay(pause, cancel);
            }

            return acted;
        }, cancel)).ToList();
        return [.. (await Task.WhenAll(stations)).SelectMany(a => a)];
    }

    private void Refused(List<StoryFact> batch, IReadOnlyList<Receipt> receipts)
    {
        var refused = batch.Where((f, i) => receipts[i].IsRefused).Select(f => Intent.Of(f.Event, f.Device) with { Refused = true }).ToList();
        if (refused.Count > 0) journal.Write(refused);
    }

    private static IEnumerable<List<StoryFact>> Batches(IEnumerable<StoryFact> facts, Func<int> size)
    {
        var most = size();
        var batch = new List<StoryFact>();
        foreach (var fact in facts)
        {
            // Two contents under one id go in two requests, as they would from a station.
            if (batch.Count > 0 && (batch[0].Device != fact.Device || batch.Count >= most || batch.Exists(b => b.Event.RecordId == fact.Event.RecordId)))
            {
                yield return batch;
                batch = [];
                most = size();
            }

            batch.Add(fact);
        }

        if (batch.Count > 0) yield return batch;
    }
}
