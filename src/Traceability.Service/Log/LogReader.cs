using System.Data;
using System.Globalization;
using Npgsql;

namespace Traceability.Service.Log;

/// <summary>That a record is a leaf of the log a checkpoint signs.</summary>
/// <param name="RecordId">The record.</param>
/// <param name="Index">Its leaf, from 0.</param>
/// <param name="LeafHash">Its hash.</param>
/// <param name="Path">Hashes from the leaf up to the root.</param>
public sealed record InclusionProof(Guid RecordId, long Index, byte[] LeafHash, IReadOnlyList<byte[]> Path);

/// <summary>That the newer checkpoint's log begins with the older's.</summary>
public sealed record ConsistencyProof(SealedCheckpoint Older, SealedCheckpoint Newer, IReadOnlyList<byte[]> Hashes);

/// <summary>Reads checkpoints and makes proofs. Whatever it hands out it has checked against the signed root.</summary>
public sealed class LogReader(NpgsqlDataSource database)
{
    /// <summary>The newest checkpoint of the log now in use; null before the first.</summary>
    public async Task<SealedCheckpoint?> LatestAsync(CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        return await LatestAsync(connection, null, cancellation);
    }

    /// <summary>The checkpoint of the log now in use at exactly this size; null if none was signed there.</summary>
    public async Task<SealedCheckpoint?> AtAsync(long size, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        return await LatestAsync(connection, null, cancellation) is { } latest
            ? await ReadAsync(connection, latest.Origin, size, cancellation)
            : null;
    }

    /// <summary>The leaf of a record; null if the log has none (yet).</summary>
    public async Task<long?> IndexOfAsync(Guid recordId, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("select index from trace.log_leaf where record_id = $1");
        command.Parameters.Add(new() { Value = recordId });
        return (long?)await command.ExecuteScalarAsync(cancellation);
    }

    /// <summary>Proof of each record under one checkpoint, in the order asked.</summary>
    /// <exception cref="KeyNotFoundException">A record is not among the leaves the checkpoint signs.</exception>
    /// <exception cref="LogContradictionException">The rows do not lead to the signed root.</exception>
    public async Task<IReadOnlyList<InclusionProof>> ProveAsync(
        IReadOnlyCollection<Guid> recordIds, SealedCheckpoint checkpoint, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        var leaves = new Dictionary<Guid, (long Index, byte[] Hash)>();
        await using (var find = new NpgsqlCommand(
            "select record_id, index, hash from trace.log_leaf where record_id = any($1) and index < $2", connection)
        {
            Parameters = { new() { Value = recordIds.ToArray() }, new() { Value = checkpoint.Size } },
        })
        {
            await using var rows = await find.ExecuteReaderAsync(cancellation);
            while (await rows.ReadAsync(cancellation))
            {
                leaves[rows.GetGuid(0)] = (rows.GetInt64(1), rows.GetFieldValue<byte[]>(2));
            }
        }

        var missing = recordIds.Where(id => !leaves.ContainsKey(id)).ToArray();
        if (missing.Length > 0)
        {
            throw new KeyNotFoundException(string.Create(
                CultureInfo.InvariantCulture,
                $"{missing.Length} of {recordIds.Count} records are not among the {checkpoint.Size} leaves sealed: {string.Join(", ", missing.Take(5))}"));
        }

        var tiles = new TileReader(connection);
        var proofs = new List<InclusionProof>(recordIds.Count);
        foreach (var id in recordIds)
        {
            var (index, hash) = leaves[id];
            var path = new List<byte[]>();
            foreach (var range in Merkle.InclusionRanges(index, checkpoint.Size))
            {
                path.Add(await tiles.RangeAsync(range, cancellation));
            }

            if (!Merkle.VerifyInclusion(index, checkpoint.Size, hash, path, checkpoint.Root))
            {
                throw new LogContradictionException(string.Create(
                    CultureInfo.InvariantCulture, $"Leaf {index} (record {id}) does not lead to the root signed over {checkpoint.Size} leaves."));
            }

            proofs.Add(new InclusionProof(id, index, hash, path));
        }

        return proofs;
    }

    /// <summary>Proof between two signed sizes of the log now in use; null if either was not signed.</summary>
    /// <exception cref="LogContradictionException">The rows do not lead to the signed roots.</exception>
    public async Task<ConsistencyProof?> ConsistencyAsync(long older, long newer, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        if (await LatestAsync(connection, null, cancellation) is not { } latest
            || await ReadAsync(connection, latest.Origin, older, cancellation) is not { } first
            || await ReadAsync(connection, latest.Origin, newer, cancellation) is not { } second)
        {
            return null;
        }

        var tiles = new TileReader(connection);
        var hashes = new List<byte[]>();
        foreach (var range in Merkle.ConsistencyRanges(older, newer))
        {
            hashes.Add(await tiles.RangeAsync(range, cancellation));
        }

        return Merkle.VerifyConsistency(older, newer, first.Root, second.Root, hashes)
            ? new ConsistencyProof(first, second, hashes)
            : throw new LogContradictionException(string.Create(
                CultureInfo.InvariantCulture, $"The log signed at {newer} leaves does not continue the one signed at {older}."));
    }

    /// <summary>The statements by which the keys of ended logs signed for their successors, oldest first; empty where the first log goes on.</summary>
    public async Task<string> SuccessionsAsync(CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("select coalesce(string_agg(succession, '' order by ordinal), '') from trace.log_origin");
        return (string)(await command.ExecuteScalarAsync(cancellation))!;
    }

    /// <summary>The hashes of a tile, or of its beginning, as far as the newest checkpoint reaches; null beyond.</summary>
    public async Task<byte[]?> TileAsync(int level, long index, int width, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        if (index > long.MaxValue / 512 || await LatestAsync(connection, null, cancellation) is not { } latest || (index * TileWriter.Width) + width > latest.Size >> (8 * level))
        {
            return null;
        }

        var hashes = await new TileReader(connection).TileAsync(level, index, cancellation);
        return hashes.Length < width
            ? throw new LogContradictionException(string.Create(CultureInfo.InvariantCulture, $"The log has no whole tile at level {level}, index {index}."))
            : [.. hashes.Take(width).SelectMany(h => h)];
    }

    /// <summary>The exact bytes of the leaves of a bundle, as far as the newest checkpoint reaches; null beyond.</summary>
    public async Task<IReadOnlyList<byte[]>?> EntriesAsync(long index, int width, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        if (index > long.MaxValue / 512 || await LatestAsync(connection, null, cancellation) is not { } latest || (index * TileWriter.Width) + width > latest.Size)
        {
            return null;
        }

        await using var command = new NpgsqlCommand(
            """
            select coalesce(r.bytes, (select o.first_leaf from trace.log_origin o where o.origin = $3))
            from trace.log_leaf l left join trace.record r on r.id = l.record_id
            where l.index >= $1 and l.index < $2 order by l.index
            """,
            connection)
        {
            Parameters = { new() { Value = index * TileWriter.Width }, new() { Value = (index * TileWriter.Width) + width }, new() { Value = latest.Origin } },
        };
        await using var rows = await command.ExecuteReaderAsync(cancellation);
        var entries = new List<byte[]>(width);
        while (await rows.ReadAsync(cancellation))
        {
            entries.Add(rows.GetFieldValue<byte[]>(0));
        }

        return entries;
    }

    /// <summary>Root over the first leaves.</summary>
    public async Task<byte[]> RootAsync(long size, CancellationToken cancellation)
    {
        if (size == 0)
        {
            return Merkle.EmptyRoot;
        }

        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        return await new TileReader(connection).RangeAsync(new LeafRange(0, size), cancellation);
    }

    /// <summary>Consistency proof from any smaller size to a checkpoint's; checked against nothing but the leaves.</summary>
    public async Task<IReadOnlyList<byte[]>> ContinuationAsync(long older, SealedCheckpoint newer, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        var tiles = new TileReader(connection);
        var hashes = new List<byte[]>();
        if (older > 0 && older < newer.Size)
        {
            foreach (var range in Merkle.ConsistencyRanges(older, newer.Size))
            {
                hashes.Add(await tiles.RangeAsync(range, cancellation));
            }
        }

        return hashes;
    }

    internal static async Task<SealedCheckpoint?> LatestAsync(
        NpgsqlConnection connection, string? origin, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            """
            select c.origin, c.size, c.root, c.note, c.sealed_at
            from trace.checkpoint c join trace.log_origin o using (origin)
            where $1::text is null or c.origin = $1
            order by o.ordinal desc, c.size desc limit 1
            """,
            connection)
        {
            Parameters = { new() { Value = (object?)origin ?? DBNull.Value } },
        };
        return await OneAsync(command, cancellation);
    }

    private static async Task<SealedCheckpoint?> ReadAsync(
        NpgsqlConnection connection, string origin, long size, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            "select origin, size, root, note, sealed_at from trace.checkpoint where origin = $1 and size = $2", connection)
        {
            Parameters = { new() { Value = origin }, new() { Value = size } },
        };
        return await OneAsync(command, cancellation);
    }

    private static async Task<SealedCheckpoint?> OneAsync(NpgsqlCommand command, CancellationToken cancellation)
    {
        await using var row = await command.ExecuteReaderAsync(cancellation);
        return await row.ReadAsync(cancellation)
            ? new SealedCheckpoint(
                row.GetString(0), row.GetInt64(1), row.GetFieldValue<byte[]>(2), row.GetString(3), row.GetFieldValue<DateTimeOffset>(4))
            : null;
    }
}
