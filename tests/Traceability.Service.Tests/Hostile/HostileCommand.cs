using System.Globalization;
using System.Text.Json;
using Traceability.Service.Tests.Hosting;
using Traceability.TestServers;

namespace Traceability.Service.Tests.Hostile;

/// <summary>What ops/hostile runs.</summary>
internal static class HostileCommand
{
    public static async Task<int> Main(string[] args)
    {
        long? inputs = null, from = null;
        ulong? seed = null;
        for (var i = 0; i + 1 < args.Length; i += 2)
        {
            if (!ulong.TryParse(args[i + 1], NumberStyles.None, CultureInfo.InvariantCulture, out var number) || number > long.MaxValue / 2) return Usage();
            switch (args[i])
            {
                case "--inputs": inputs = (long)number; break;
                case "--from": from = (long)number; break;
                case "--seed": seed = number; break;
                default: return Usage();
            }
        }

        if (args.Length % 2 == 1) return Usage();
        var folder = Path.Combine(Servers.Root, ".data", "hostile");
        // A single input repeated leaves a long run where it stands.
        if (from is not null) folder = Path.Combine(folder, "repeated");
        var file = HostileRun.StandingFile(folder);
        var standing = from is null && File.Exists(file) ? JsonSerializer.Deserialize<Standing>(await File.ReadAllTextAsync(file)) : null;
        if (standing is not null && standing.Next < standing.Until && (seed ?? standing.Seed) == standing.Seed && (inputs ?? standing.Until) == standing.Until)
        {
            Console.Error.WriteLine($"Goes on with input {standing.Next} of seed {standing.Seed}.");
            if (File.Exists(HostileRun.NowFile(folder))) Console.Error.WriteLine($"It broke off in {(await File.ReadAllTextAsync(HostileRun.NowFile(folder))).Trim()}.");
        }
        else
        {
            standing = new Standing { Seed = seed ?? RunSeed.Value, From = from ?? 0, Next = from ?? 0, Until = (from ?? 0) + (inputs ?? (from is null ? 1_000_000 : 1)) };
        }

        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var targets = HostileRun.All(host, most: 1000);
        var run = new HostileRun(targets, standing, folder);
        using var stop = new CancellationTokenSource();
        Console.CancelKeyPress += (_, e) => { e.Cancel = true; stop.Cancel(); };
        var (told, wrong) = (standing.Next / 10_000, 0);
        await run.RunAsync(() =>
        {
            for (; wrong < run.Wrongs.Count; wrong++) Console.Error.WriteLine("WRONG " + run.Wrongs[wrong]);
            if (standing.Next / 10_000 > told) Console.Error.WriteLine($"{(told = standing.Next / 10_000) * 10_000} of {standing.Until}, {standing.Wrong} wrong");
            return stop.IsCancellationRequested;
        });
        for (; wrong < run.Wrongs.Count; wrong++) Console.Error.WriteLine("WRONG " + run.Wrongs[wrong]);
        foreach (var target in targets) await target.DisposeAsync();
        foreach (var line in run.Lines()) Console.WriteLine(line);
        return standing.Wrong == 0 && standing.Next == standing.Until ? 0 : 1;
    }

    private static int Usage()
    {
        Console.Error.WriteLine("ops/hostile [--inputs N] [--seed S] [--from K]");
        return 2;
    }
}
