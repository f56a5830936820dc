using System.Text.Json;
using BenchmarkDotNet.Configs;
using BenchmarkDotNet.Jobs;
using BenchmarkDotNet.Running;
using BenchmarkDotNet.Toolchains.InProcess.Emit;
using Traceability.Benchmarks;

// traceability-bench [OUT.json]              the line: judging, latency, intake; floors beside ours
// traceability-bench judging                 one unit judged in memory, by BenchmarkDotNet
// traceability-bench recall [UNITS] [OUT]    recalls of ten thousand units over a store of 100,000
// traceability-bench storm [UNITS] [OUT]     one fact on a lot of 20,000 units
// Every figure of one run as JSON; progress on standard error.
if (args is ["judging"])
{
    // In this process: the project's assembly has another name than its file, which the generated one would not find.
    BenchmarkRunner.Run<JudgingBenchmark>(DefaultConfig.Instance.AddJob(Job.ShortRun.WithToolchain(InProcessEmitToolchain.Instance))
        .WithArtifactsPath(Path.Combine(Path.GetTempPath(), "traceability-bench")));
    return 0;
}

var figures = new SortedDictionary<string, object>(StringComparer.Ordinal)
{
    ["machine"] = new { cores = Environment.ProcessorCount, memoryGiB = GC.GetGCMemoryInfo().TotalAvailableMemoryBytes >> 30, os = System.Runtime.InteropServices.RuntimeInformation.OSDescription, dotnet = Environment.Version.ToString() },
};
var what = args is ["recall" or "storm", ..] ? args[0] : "line";
var rest = what == "line" ? args : args[1..];
var units = what != "line" && rest.Length > 0 && int.TryParse(rest[0], out var asked) ? asked : 100_000;
if (what != "line" && rest.Length > 0 && int.TryParse(rest[0], out _)) rest = rest[1..];
if (what == "line")
{
    await using var bench = await Bench.StartAsync();
    figures["judging"] = await bench.JudgingAsync();
    figures["latencyAt200PerSecond"] = await bench.LatencyAsync();
    figures["intake"] = await bench.IntakeAsync();
}
else
{
    await using var plant = await FilledPlant.StartAsync(units);
    figures[what] = what == "recall" ? await plant.RecallAsync(500) : await plant.StormAsync();
}

var json = JsonSerializer.Serialize(figures, new JsonSerializerOptions { WriteIndented = true });
if (rest.Length > 0) await File.WriteAllTextAsync(rest[0], json + "\n");
Console.WriteLine(json);
return 0;
