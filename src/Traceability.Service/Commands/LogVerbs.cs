using System.ComponentModel;
using Npgsql;
using Spectre.Console.Cli;
using Traceability.Service.Log;

namespace Traceability.Service.Commands;

/// <summary>Where the log stands: its name, leaves, last checkpoint, and whether the signer refuses it.</summary>
public sealed class LogStatusVerb : Verb<VerbSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, VerbSettings settings, CancellationToken cancel)
    {
        await using var connection = await services.GetRequiredService<NpgsqlDataSource>().OpenConnectionAsync(cancel);
        var latest = await LogReader.LatestAsync(connection, null, cancel);
        await using var count = new NpgsqlCommand("select count(*) from trace.log_leaf", connection);
        var leaves = (long)(await count.ExecuteScalarAsync(cancel))!;
        if (settings.Json) terminal.Json(new { leaves, origin = latest?.Origin, size = latest?.Size, root = latest is null ? null : Convert.ToHexStringLower(latest.Root), sealedAt = latest?.SealedAt });
        else terminal.Out.WriteLine(latest is null ? $"{leaves} leaves; nothing was sealed yet." : $"{latest.Origin}: {leaves} leaves, {latest.Size} sealed {latest.SealedAt:yyyy-MM-dd HH:mm:ss}Z, root {Convert.ToHexStringLower(latest.Root)}");
        return ExitCodes.Done;
    }
}

public sealed class NewOriginSettings : VerbSettings
{
    [CommandArgument(0, "<NAME>")]
    [Description("Name of the new log; none this signer had.")]
    public required string Name { get; set; }

    [CommandOption("--yes")]
    [Description("The cause is known, the writers and the signer are stopped.")]
    public bool Yes { get; set; }
}

/// <summary>Ends a log that can no longer be continued and starts another over the leaves the database still has.</summary>
public sealed class NewOriginVerb : Verb<NewOriginSettings>
{
    protected override string Roles => "signer";

    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, NewOriginSettings settings, CancellationToken cancel)
    {
        if (!settings.Yes) throw VerbException.Called("This ends the log for good. Find out why the signer refuses, stop the writers and the signer, and call again with --yes.");
        SealedCheckpoint? sealedNow;
        try
        {
            sealedNow = await services.GetRequiredService<LogSigner>().StartNewOriginAsync(settings.Name, cancel);
        }
        catch (Exception e) when (e is LogContradictionException or InvalidOperationException or ArgumentException)
        {
            throw VerbException.NotThere(e.Message);
        }

        if (settings.Json) terminal.Json(new { origin = settings.Name, size = sealedNow?.Size, root = sealedNow is null ? null : Convert.ToHexStringLower(sealedNow.Root) });
        else terminal.Out.WriteLine($"{settings.Name} continues; {sealedNow?.Size ?? 0} leaves sealed. Set Signer__Origin to this name, give the second party its first checkpoint, then start the writers.");
        return ExitCodes.Done;
    }
}
