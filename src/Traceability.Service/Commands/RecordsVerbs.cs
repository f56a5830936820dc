using System.ComponentModel;
using Npgsql;
using Spectre.Console;
using Spectre.Console.Cli;
using Traceability.Service.Imports;

namespace Traceability.Service.Commands;

public sealed class FileSettings : VerbSettings
{
    [CommandArgument(0, "<FILE>")]
    [Description("records.jsonl: every record's exact bytes, one a line, in order of position.")]
    public required string File { get; set; }
}

/// <summary>Every record out of the store, exact bytes.</summary>
public sealed class ExportVerb : Verb<FileSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, FileSettings settings, CancellationToken cancel)
    {
        var source = services.GetRequiredService<NpgsqlDataSource>();
        // Under another name until it is whole, so that a broken-off export is never taken for one.
        var part = settings.File + ".part";
        long count;
        await using (var file = File.Create(part)) count = await Records.ExportAsync(source, file, cancel);
        File.Move(part, settings.File, overwrite: true);
        if (settings.Json) terminal.Json(new { exported = count, file = settings.File });
        else terminal.Out.WriteLine($"{count} records exported");
        return ExitCodes.Done;
    }
}

/// <summary>Records into a store that does not hold them yet.</summary>
public sealed class ImportVerb : Verb<FileSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, FileSettings settings, CancellationToken cancel)
    {
        if (!File.Exists(settings.File)) throw VerbException.Called($"{settings.File} is not there.");
        await Operations.Host.PrepareAsync(services, cancel);
        var recorder = services.GetRequiredService<Recording.Recorder>();
        long count;
        try
        {
            count = settings.Json ? await Records.ImportAsync(recorder, settings.File, cancel)
                : await terminal.Console.Progress().Columns(new TaskDescriptionColumn(), new SpinnerColumn()).StartAsync(async progress =>
                {
                    var task = progress.AddTask("import");
                    return await Records.ImportAsync(recorder, settings.File, cancel, read => task.Description = $"{read} lines read");
                });
        }
        catch (InvalidDataException e)
        {
            throw VerbException.NotThere(e.Message);
        }

        if (settings.Json) terminal.Json(new { imported = count, file = settings.File });
        else terminal.Out.WriteLine($"{count} records imported");
        return ExitCodes.Done;
    }
}
