using Npgsql;

namespace Traceability.Service.Linking;

/// <summary>A record whose stored bytes are not the ones that were recorded.</summary>
/// <param name="Type">The type that its row names; its bytes cannot be believed.</param>
public sealed record ChangedRecord(long Position, Guid Id, string Type, DateTimeOffset RecordedAt);

/// <summary>A judgement would have rested on a record whose stored bytes were changed.</summary>
public sealed class RecordChangedException(ChangedRecord record) : Exception($"The stored bytes of the record at log position {record.Position} are not the ones that were recorded.")
{
    public ChangedRecord Record => record;
}

/// <summary>Hashes stored records anew.</summary>
public static class StoredBytes
{
    /// <summary>
    /// The first of these records whose bytes no longer have the hash of their row, or whose row no longer has the hash of
    /// its leaf in the log; null when all are as recorded. The hashing is the database's, so that bytes held in memory from
    /// before a change cannot hide it.
    /// </summary>
    public static async Task<ChangedRecord?> FirstChangedAsync(NpgsqlConnection connection, IReadOnlyCollection<long> positions, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("""
            select r.position, r.id, r.type, r.recorded_at from trace.record r
            left join trace.log_leaf l on l.record_id = r.id
            where r.position = any($1) and (r.leaf_hash <> sha256('\x00'::bytea || r.bytes) or l.hash <> r.leaf_hash)
            order by r.position limit 1
            """, connection)
        { Parameters = { new() { Value = positions.ToArray() } } };
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? new(row.GetInt64(0), row.GetGuid(1), row.GetString(2), row.GetFieldValue<DateTimeOffset>(3)) : null;
    }
}
