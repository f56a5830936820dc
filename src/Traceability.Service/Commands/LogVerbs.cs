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
        else terminal.Out.WriteLine(latest is null ? $"{leaves} leaves; nothing was sealed yet." : $"{latest.Origin}: {leaves} leaves, {latest.Size} sealed {PlantClock(services, latest.SealedAt)}, root {Convert.ToHexStringLower(latest.Root)}");
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

    [CommandOption("--new-key")]
    [Description("The new log gets a key of its own; the old key signs for it and is put aside.")]
    public bool NewKey { get; set; }

    [CommandOption("--lost-key")]
    [Description("The old log's key is gone for good. Nothing signs for the new one; its first leaf says so.")]
    public bool LostKey { get; set; }
}

/// <summary>Ends a log that can no longer be continued and starts another over the leaves the database still has.</summary>
public sealed class NewOriginVerb : Verb<NewOriginSettings>
{
    protected override string Roles => "signer";

    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, NewOriginSettings settings, CancellationToken cancel)
    {
        if (!settings.Yes) throw VerbException.Called("This ends the log for good. Find out why the signer refuses, stop the writers and the signer, and call again with --yes.");
        if (settings is { NewKey: true, LostKey: true }) throw VerbException.Called("--new-key and --lost-key exclude each other: a lost key signs for nothing.");
        SealedCheckpoint? sealedNow;
        try
        {
            sealedNow = await services.GetRequiredService<LogSigner>().StartNewOriginAsync(settings.Name, cancel, settings.NewKey ? KeyChange.Succeed : settings.LostKey ? KeyChange.Lost : KeyChange.Keep);
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

public sealed class WitnessRequestSettings : VerbSettings
{
    [CommandArgument(0, "<FILE>")]
    [Description("Where to write the request, for the witness to take away.")]
    public required string File { get; set; }

    [CommandOption("--from <SIZE>")]
    [Description("Records at which the witness last cosigned; 0, the default, for a witness that knows nothing of the log yet.")]
    public long From { get; set; }
}

/// <summary>Writes what a witness without a connection cosigns: the newest checkpoint, with proof that it continues what the witness knows.</summary>
public sealed class WitnessRequestVerb : Verb<WitnessRequestSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, WitnessRequestSettings settings, CancellationToken cancel)
    {
        var latest = await services.GetRequiredService<LogReader>().LatestAsync(cancel) ?? throw VerbException.NotThere("Nothing was sealed yet: there is nothing to cosign.");
        if (settings.From < 0 || settings.From > latest.Size) throw VerbException.Called($"--from must be 0 to {latest.Size}, the records sealed so far; it is {settings.From}.");
        await System.IO.File.WriteAllTextAsync(settings.File, await services.GetRequiredService<Cosigning>().RequestAsync(settings.From, latest, cancel), cancel);
        if (settings.Json) terminal.Json(new { origin = latest.Origin, size = latest.Size, from = settings.From, file = settings.File });
        else terminal.Out.WriteLine($"{settings.File}: {latest.Origin} at {latest.Size} records. The witness runs: traceability-verify witness cosign DIR {System.IO.Path.GetFileName(settings.File)}");
        return ExitCodes.Done;
    }
}

public sealed class CosignatureSettings : VerbSettings
{
    [CommandArgument(0, "<REQUEST>")]
    [Description("The request as it was written for the witness.")]
    public required string Request { get; set; }

    [CommandArgument(1, "<LINES>")]
    [Description("The file with the witness's answer.")]
    public required string Lines { get; set; }
}

/// <summary>Takes back what a witness without a connection answered.</summary>
public sealed class CosignatureVerb : Verb<CosignatureSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, CosignatureSettings settings, CancellationToken cancel)
    {
        var request = await System.IO.File.ReadAllTextAsync(settings.Request, cancel);
        var start = request.IndexOf("\n\n", StringComparison.Ordinal);
        var end = start < 0 ? -1 : request.IndexOf("\n\n", start + 2, StringComparison.Ordinal);
        if (end < 0) throw VerbException.NotThere($"{settings.Request} is not a request that 'log witness-request' wrote.");
        var taken = await services.GetRequiredService<CosignatureStore>().TakeAsync(request[(start + 2)..(end + 2)] + await System.IO.File.ReadAllTextAsync(settings.Lines, cancel), cancel);
        if (taken is not > 0) throw VerbException.NotThere(taken is null ? "The request's checkpoint is none of this log." : "No line is a cosignature of a witness in the settings (Witnesses__0__Key).");
        if (settings.Json) terminal.Json(new { taken });
        else terminal.Out.WriteLine($"{taken} {(taken == 1 ? "cosignature" : "cosignatures")} kept.");
        return ExitCodes.Done;
    }
}

public sealed class CheckCheckpointSettings : VerbSettings
{
    [CommandArgument(0, "<FILE>")]
    [Description("A checkpoint that somebody outside kept: checkpoint.txt of a packet, or what an agency was given.")]
    public required string File { get; set; }
}

/// <summary>Compares a checkpoint that was shown before with the log as it is: after a restore it tells whether the log went back.</summary>
public sealed class CheckCheckpointVerb : Verb<CheckCheckpointSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, CheckCheckpointSettings settings, CancellationToken cancel)
    {
        var reader = services.GetRequiredService<LogReader>();
        var latest = await reader.LatestAsync(cancel) ?? throw VerbException.NotThere("Nothing was sealed yet: there is nothing to compare with.");
        var lines = (await System.IO.File.ReadAllTextAsync(settings.File, cancel)).Split('\n');
        if (lines.Length < 4 || !long.TryParse(lines[1], System.Globalization.NumberStyles.None, System.Globalization.CultureInfo.InvariantCulture, out var size)) throw VerbException.NotThere($"{settings.File} is not a checkpoint.");
        if (lines[0] != latest.Origin) throw VerbException.NotThere($"{settings.File} is of the log {lines[0]}; the log in use is {latest.Origin}.");
        if (size > latest.Size) throw VerbException.NotThere($"The log went back: {settings.File} shows {size} records, {latest.Size} are sealed here. It was restored from a backup. Stop the writers and the signer, find the cause, and start a new origin.");
        var root = Convert.ToBase64String(await reader.RootAsync(size, cancel));
        if (root != lines[2]) throw VerbException.NotThere($"Two histories: at {size} records {settings.File} shows another root than this log. Stop the writers and the signer, find the cause, and start a new origin.");
        if (settings.Json) terminal.Json(new { origin = latest.Origin, size, continues = true, now = latest.Size });
        else terminal.Out.WriteLine($"The log goes on from it: {size} records then, {latest.Size} now.");
        return ExitCodes.Done;
    }
}
