using Microsoft.Extensions.Hosting;
using Npgsql;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.Recording;

namespace Traceability.Service.Imports;

/// <summary>records.jsonl: every record's exact bytes, one a line, in order of position. The truth is these records, not a library.</summary>
public static class Records
{
    private const int Page = 1000;

    public static async Task<int> ExportAsync(string path)
    {
        await using var app = Operations.Host.Build(["--Roles=worker", "--Bus=inprocess"]);
        var source = app.Services.GetRequiredService<NpgsqlDataSource>();
        await using var file = File.Create(path);
        var count = await ExportAsync(source, file, CancellationToken.None);
        Console.WriteLine($"{count} records exported");
        return 0;
    }

    public static async Task<long> ExportAsync(NpgsqlDataSource source, Stream to, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using var command = new NpgsqlCommand("select bytes from trace.record order by position", connection);
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var count = 0L;
        while (await reader.ReadAsync(cancel))
        {
            await to.WriteAsync(reader.GetFieldValue<byte[]>(0), cancel);
            to.WriteByte((byte)'\n');
            count++;
        }

        await to.FlushAsync(cancel);
        return count;
    }

    public static async Task<int> ImportAsync(string path)
    {
        await using var app = Operations.Host.Build(["--Roles=worker", "--Bus=inprocess"]);
        await Operations.Host.PrepareAsync(app);
        var recorder = app.Services.GetRequiredService<Recorder>();
        Console.WriteLine($"{await ImportAsync(recorder, path, CancellationToken.None)} records imported");
        return 0;
    }

    /// <summary>Imports what the store does not hold yet; an interrupted import is simply run again.</summary>
    public static async Task<long> ImportAsync(Recorder recorder, string path, CancellationToken cancel)
    {
        var page = new List<Record>(Page);
        var line = 0L;
        var count = 0L;
        await foreach (var text in File.ReadLinesAsync(path, cancel))
        {
            line++;
            try
            {
                page.Add(Record.Read(System.Text.Encoding.UTF8.GetBytes(text), 0));
            }
            catch (Exception e) when (e is System.Text.Json.JsonException or Core.Events.FactShapeException or FormatException or KeyNotFoundException)
            {
                throw new InvalidDataException($"{path}, line {line}: not a record: {e.Message}", e);
            }

            if (page.Count < Page) continue;
            count += await FlushAsync();
        }

        return count + await FlushAsync();

        async Task<long> FlushAsync()
        {
            if (page.Count == 0) return 0;
            await using var writing = await recorder.BeginAsync(cancel);
            var written = await writing.ImportAsync(page, cancel);
            await writing.CommitAsync(cancel);
            page.Clear();
            return written;
        }
    }
}
