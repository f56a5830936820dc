using System.Diagnostics;
using System.Text.Json;
using System.Threading.Channels;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;

namespace Traceability.PlantSimulator.Verbs;

/// <summary>Sends facts at a rate, or as fast as they are taken, and counts what went in.</summary>
internal static class LoadVerb
{
    private const int UnitsPerStory = 50;

    public static async Task<int> RunAsync(Options options, CancellationToken cancel)
    {
        var url = options.Url("--url");
        var credentials = Credentials.Load(options.Text("--credentials"));
        var rate = options.Number("--rate", 0);
        var seconds = options.Number("--seconds", 10);
        var size = options.Number("--batch", 100);
        var parallel = options.Number("--parallel", 4);
        var key = options.Optional("--key") ?? $"L{TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds():x}-";
        var count = options.Number("--facts", 0);
        var file = options.Optional("--journal");
        options.Done();

        using var client = new ServiceClient(url, credentials);
        using var journal = file is null ? null : new Journal(file);
        var latencies = new List<double>();
        var sent = 0L;

        // Made ahead of the clock where the number is known: making a fact costs about as much as taking it in.
        var batches = Batches(key, size);
        if (count > 0) batches = [.. Limit(batches, count)];
        var queue = Channel.CreateBounded<(string Device, IReadOnlyList<CloudEvent> Facts)>(parallel * 4);
        var watch = Stopwatch.StartNew();
        var feeding = Task.Run(async () =>
        {
            var fed = 0L;
            foreach (var batch in batches)
            {
                if (count == 0 && watch.Elapsed.TotalSeconds >= seconds) break;
                var due = rate == 0 ? TimeSpan.Zero : TimeSpan.FromSeconds((double)fed / rate) - watch.Elapsed;
                if (due > TimeSpan.Zero) await Task.Delay(due, cancel);
                await queue.Writer.WriteAsync(batch, cancel);
                fed += batch.Facts.Count;
            }

            queue.Writer.Complete();
        }, cancel);
        await Task.WhenAll(Enumerable.Range(0, parallel).Select(_ => Task.Run(async () =>
        {
            await foreach (var (device, facts) in queue.Reader.ReadAllAsync(cancel))
            {
                journal?.Write(facts.Select(f => Intent.Of(f, device)));
                var began = watch.Elapsed;
                await client.SendAsync(device, facts, cancel);
                var took = (watch.Elapsed - began).TotalMilliseconds;
                lock (latencies) latencies.Add(took);
                Interlocked.Add(ref sent, facts.Count);
            }
        }, cancel)).Append(feeding));
        var elapsed = watch.Elapsed.TotalSeconds;

        latencies.Sort();
        double At(double share) => latencies.Count == 0 ? 0 : Math.Round(latencies[Math.Min(latencies.Count - 1, (int)(share * latencies.Count))], 2);
        Console.WriteLine(JsonSerializer.Serialize(new
        {
            facts = sent,
            posts = latencies.Count,
            seconds = Math.Round(elapsed, 3),
            factsPerSecond = Math.Round(sent / elapsed),
            postMs = new { p50 = At(0.50), p90 = At(0.90), p99 = At(0.99), max = At(1) },
            resends = client.Resends,
            key,
        }));
        return 0;
    }

    /// <summary>Batches of one station each, without end; every fact is new.</summary>
    private static IEnumerable<(string Device, IReadOnlyList<CloudEvent> Facts)> Batches(string key, int size)
    {
        var waiting = new Dictionary<string, List<CloudEvent>>(StringComparer.Ordinal);
        var start = new DateTimeOffset(2026, 3, 2, 0, 0, 0, PlantStory.PlantOffset);
        for (var n = 0; ; n++)
        {
            foreach (var fact in PlantStory.RigidFrame(n, UnitsPerStory, start, key: $"{key}{n}-").Facts)
            {
                if (!waiting.TryGetValue(fact.Device, out var batch)) waiting[fact.Device] = batch = [];
                batch.Add(fact.Event);
                if (batch.Count < size) continue;
                yield return (fact.Device, batch);
                waiting[fact.Device] = [];
            }
        }
    }

    private static IEnumerable<(string Device, IReadOnlyList<CloudEvent> Facts)> Limit(IEnumerable<(string Device, IReadOnlyList<CloudEvent> Facts)> batches, int count)
    {
        foreach (var batch in batches)
        {
            if (count <= 0) yield break;
            yield return batch;
            count -= batch.Facts.Count;
        }
    }
}
