using System.Text.Json;
using Npgsql;
using Traceability.Core.Records;

namespace Traceability.Service.Log;

/// <summary>
/// A log after one that could not be continued: leaf 0 names the old log's last checkpoint, and the leaves the
/// database has follow in their order. The old numbering is kept in <c>log_leaf_superseded</c>.
/// </summary>
internal static class NewOrigin
{
    internal static async Task StartAsync(
        NpgsqlConnection connection, SignerState old, string newOrigin, string? succession, DateTimeOffset now, CancellationToken cancellation)
    {
        var leaf = FirstLeaf(old, newOrigin, succession, now);
        await RunAsync(connection, "lock table trace.log_leaf in exclusive mode", cancellation);
        await using var known = new NpgsqlCommand(
            "select exists (select from trace.log_origin where origin = $1)", connection) { Parameters = { new() { Value = newOrigin } } };
        if ((bool)(await known.ExecuteScalarAsync(cancellation))!)
        {
            // An earlier call got this far and then stopped before the signer's file was written.
            await using var continues = new NpgsqlCommand(
                "select first_leaf from trace.log_origin o where origin = $1 and not exists "
                + "(select from trace.checkpoint c where c.origin = o.origin)", connection) { Parameters = { new() { Value = newOrigin } } };
            if (await continues.ExecuteScalarAsync(cancellation) is byte[] started && Continues(started) == (old.Origin, old.Size))
            {
                return;
            }

            throw new ArgumentException($"There was a log named {newOrigin} before; a new log needs a new name.", nameof(newOrigin));
        }

        await RunAsync(
            connection,
            """
            insert into trace.log_leaf_superseded (origin, index, position, record_id, hash)
            select $1, index, position, record_id, hash from trace.log_leaf
            """,
            cancellation,
            old.Origin);
        await RunAsync(connection, "delete from trace.log_tile", cancellation);
        await RunAsync(connection, "delete from trace.log_leaf", cancellation);
        await RunAsync(
            connection,
            "insert into trace.log_origin (ordinal, origin, first_leaf, started_at, succession) "
            + "select coalesce(max(ordinal), -1) + 1, $1, $2, $3, $4 from trace.log_origin",
            cancellation,
            newOrigin,
            leaf,
            now,
            (object?)succession ?? DBNull.Value);
        var hash = Merkle.LeafHash(leaf);
        await RunAsync(
            connection,
            """
            insert into trace.log_leaf (index, position, record_id, hash)
            select 0, -max(ordinal), $1, $2 from trace.log_origin
            union all
            select row_number() over (order by index), position, record_id, hash
            from trace.log_leaf_superseded where origin = $3
            """,
            cancellation,
            new Guid(hash.AsSpan(0, 16), bigEndian: true),
            hash,
            old.Origin);
    }

    private static byte[] FirstLeaf(SignerState old, string newOrigin, string? succession, DateTimeOffset now) =>
        CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(new
        {
            origin = newOrigin,
            startedAt = now.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", System.Globalization.CultureInfo.InvariantCulture),
            continues = new { origin = old.Origin, size = old.Size, root = old.Root, note = old.Note },
            // What the old key signed for the new log; without it, that the old key was gone.
            succession,
            keyLost = succession is null,
        }));

    private static (string? Origin, long Size) Continues(byte[] firstLeaf)
    {
        using var leaf = JsonDocument.Parse(firstLeaf);
        var old = leaf.RootElement.GetProperty("continues");
        return (old.GetProperty("origin").GetString(), old.GetProperty("size").GetInt64());
    }

    private static async Task RunAsync(
        NpgsqlConnection connection, string sql, CancellationToken cancellation, params object[] values)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        foreach (var value in values)
        {
            command.Parameters.Add(new NpgsqlParameter { Value = value });
        }

        await command.ExecuteNonQueryAsync(cancellation);
    }
}
