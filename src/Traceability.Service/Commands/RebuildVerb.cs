using System.ComponentModel;
using Npgsql;
using Spectre.Console;
using Spectre.Console.Cli;
using Traceability.Service.Assembling;
using Traceability.Service.Linking;

namespace Traceability.Service.Commands;

public sealed class RebuildSettings : VerbSettings
{
    [CommandArgument(0, "<WHAT>")]
    [Description("links: the index of links anew from the records. units: every unit's row, card and reach anew.")]
    public required string What { get; set; }

    [CommandOption("--no-wait")]
    [Description("For units: mark them and leave; the worker does the rest.")]
    public bool NoWait { get; set; }
}

/// <summary>Makes anew what can be made from the records, while facts come in.</summary>
public sealed class RebuildVerb : Verb<RebuildSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, RebuildSettings settings, CancellationToken cancel)
    {
        var source = services.GetRequiredService<NpgsqlDataSource>();
        if (settings.What is not ("links" or "units")) throw VerbException.Called("Name links or units.");
        var count = settings.Json ? await WorkAsync(services, source, settings, (_, _) => { }, cancel)
            : await terminal.Console.Progress().Columns(new TaskDescriptionColumn(), new ProgressBarColumn(), new PercentageColumn(), new RemainingTimeColumn()).StartAsync(async progress =>
            {
                var task = progress.AddTask(settings.What, autoStart: true, maxValue: 1);
                var done = await WorkAsync(services, source, settings, (now, of) => { task.MaxValue = Math.Max(1, of); task.Value = now; }, cancel);
                task.Value = task.MaxValue;
                return done;
            });
        if (settings.Json) terminal.Json(new { rebuilt = settings.What, count });
        else terminal.Out.WriteLine(settings.What == "links" ? $"links of {count} records rebuilt" : settings.NoWait ? $"{count} units marked; the worker judges them" : $"{count} units rebuilt");
        return ExitCodes.Done;
    }

    private static async Task<long> WorkAsync(IServiceProvider services, NpgsqlDataSource source, RebuildSettings settings, Action<long, long> tell, CancellationToken cancel)
    {
        if (settings.What == "links") return await RebuildLinks.RunAsync(source, cancel, tell);
        var marked = await RebuildUnits.RunAsync(source, cancel);
        if (settings.NoWait) return marked;
        // This process helps the worker, or does without it: units are taken one transaction each, never twice.
        var assembler = services.GetRequiredService<Assembler>();
        var last = TimeSpan.Zero;
        var since = System.Diagnostics.Stopwatch.StartNew();
        while (await assembler.AssembleNextAsync(12, hubs: true, cancel))
        {
            if (since.Elapsed - last < TimeSpan.FromMilliseconds(250)) continue;
            last = since.Elapsed;
            await using var left = source.CreateCommand("select count(*) from trace.stale_unit");
            tell(Math.Max(0, marked - (long)(await left.ExecuteScalarAsync(cancel))!), marked);
        }

        return marked;
    }
}
