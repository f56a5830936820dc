using System.Text.Json;
using Traceability.Benchmarks;

// traceability-bench [OUT.json]: every figure of one run, floors beside ours, as JSON; progress on standard error.
var figures = new SortedDictionary<string, object>(StringComparer.Ordinal)
{
    ["machine"] = new { cores = Environment.ProcessorCount, memoryGiB = GC.GetGCMemoryInfo().TotalAvailableMemoryBytes >> 30, os = System.Runtime.InteropServices.RuntimeInformation.OSDescription, dotnet = Environment.Version.ToString() },
};
await using var bench = await Bench.StartAsync();
figures["judging"] = await bench.JudgingAsync();
figures["latencyAt200PerSecond"] = await bench.LatencyAsync();
figures["intake"] = await bench.IntakeAsync();
var json = JsonSerializer.Serialize(figures, new JsonSerializerOptions { WriteIndented = true });
if (args.Length > 0) await File.WriteAllTextAsync(args[0], json + "\n");
Console.WriteLine(json);
return 0;
