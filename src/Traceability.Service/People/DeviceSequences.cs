using Npgsql;

namespace Traceability.Service.People;

/// <summary>One entry of a device as its own numbering has it.</summary>
public sealed record NumberedEntry(long Sequence, string? Previous, string ContentHash);

/// <summary>An entry that a device made and that never arrived. Its content hash is known when the entry after it arrived.</summary>
public sealed record MissingEntry(long Sequence, string? ContentHash);

/// <summary>What a device's numbering says of its entries.</summary>
/// <param name="Highest">The highest number that arrived; 0 when none did.</param>
/// <param name="Missing">Numbers below it that did not.</param>
/// <param name="Broken">Numbers that arrived with more than one content, or whose entry does not follow on the one before it.</param>
public sealed record DeviceSequence(long Highest, IReadOnlyList<MissingEntry> Missing, IReadOnlyList<long> Broken)
{
    /// <summary>Most missing entries that are named one by one.</summary>
    public const int MostNamed = 1000;

    /// <summary>Pure.</summary>
    public static DeviceSequence Of(IEnumerable<NumberedEntry> entries)
    {
        var arrived = entries.Distinct().ToLookup(e => e.Sequence);
        var highest = arrived.Count == 0 ? 0 : arrived.Max(g => g.Key);
        var missing = new List<MissingEntry>();
        for (var n = 1L; n < highest && missing.Count < MostNamed; n++)
        {
            if (!arrived.Contains(n)) missing.Add(new(n, arrived[n + 1].Select(e => e.Previous).FirstOrDefault()));
        }

        var broken = arrived
            .Where(g => g.Count() > 1 || (arrived.Contains(g.Key - 1) && arrived[g.Key - 1].All(before => before.ContentHash != g.First().Previous)))
            .Select(g => g.Key).Order().ToList();
        return new(highest, missing, broken);
    }
}

/// <summary>Reads the numbering of a device's entries off everything that arrived of it, recorded or set apart.</summary>
public sealed class DeviceSequences(NpgsqlDataSource source)
{
    public async Task<DeviceSequence> OfAsync(string device, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("""
            select (sent->>'deviceseq')::bigint, sent->>'deviceprev', content_hash from (
                select convert_from(bytes, 'UTF8')::jsonb->'fact' as sent, content_hash from trace.record where device = $1
                union all select convert_from(bytes, 'UTF8')::jsonb, content_hash from trace.quarantine where device = $1
                union all select convert_from(bytes, 'UTF8')::jsonb, content_hash from trace.parked where device = $1
            ) arrived where sent ? 'deviceseq'
            """);
        command.Parameters.Add(new() { Value = device });
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var entries = new List<NumberedEntry>();
        while (await reader.ReadAsync(cancel)) entries.Add(new(reader.GetInt64(0), await reader.IsDBNullAsync(1, cancel) ? null : reader.GetString(1), reader.GetString(2)));
        return DeviceSequence.Of(entries);
    }
}
