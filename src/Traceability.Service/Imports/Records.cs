using Npgsql;
using Traceability.Core.Records;
using Traceability.Service.Recording;

namespace Traceability.Service.Imports;

/// <summary>records.jsonl: every record's exact bytes, one a line, in order of position. The truth is these records, not a library.</summary>
public static class Records
{
    private const int Page = 1000;

    /// <summary>
    /// Writes every record; before them, where the log continues an earlier one, its first leaf, which names that one: so the
    /// lines are the leaves of the log in force, in their order, and lead to its root.
    /// </summary>
    /// <param name="tell">Told now and then how many records are written.</param>
    /// <returns>How many records were written.</returns>
    public static async Task<long> ExportAsync(NpgsqlDataSource source, Stream to, CancellationToken cancel, Action<long>? tell = null)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using (var origin = new NpgsqlCommand("select first_leaf from trace.log_origin order by ordinal desc limit 1", connection))
        {
            if (await origin.ExecuteScalarAsync(cancel) is byte[] first)
            {
                await to.WriteAsync(first, cancel);
                to.WriteByte((byte)'\n');
            }
        }

        await using var command = new NpgsqlCommand("select bytes from trace.record order by position", connection);
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var count = 0L;
        while (await reader.ReadAsync(cancel))
        {
            await to.WriteAsync(reader.GetFieldValue<byte[]>(0), cancel);
            to.WriteByte((byte)'\n');
            if (++count % Page == 0) tell?.Invoke(count);
        }

        await to.FlushAsync(cancel);
        return count;
    }

    /// <summary>
    /// Imports what the store does not hold yet; an interrupted import is simply run again. The first leaf of a log that
    /// continued another is no record and is passed over: the new store's log begins with the first record.
    /// </summary>
    /// <param name="tell">Told after each page how many lines are read.</param>
    public static async Task<long> ImportAsync(Recorder recorder, string path, CancellationToken cancel, Action<long>? tell = null)
    {
        var page = new List<Record>(Page);
        var line = 0L;
        var count = 0L;
        await foreach (var text in File.ReadLinesAsync(path, cancel))
        {
            line++;
            if (line == 1 && IsFirstLeaf(text)) continue;
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
            tell?.Invoke(line);
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

    private static bool IsFirstLeaf(string text)
    {
        try
        {
            using var leaf = System.Text.Json.JsonDocument.Parse(text);
            return leaf.RootElement.ValueKind == System.Text.Json.JsonValueKind.Object && leaf.RootElement.TryGetProperty("continues", out _) && !leaf.RootElement.TryGetProperty("fact", out _);
        }
        catch (System.Text.Json.JsonException)
        {
            return false;
        }
    }
}
