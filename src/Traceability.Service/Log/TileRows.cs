using System.Globalization;
using Npgsql;
using NpgsqlTypes;

namespace Traceability.Service.Log;

/// <summary>Grows the tiles as leaves are added, and writes those that changed.</summary>
internal sealed class TileWriter
{
    /// <summary>Nodes in a whole tile.</summary>
    internal const int Width = 256;

    private readonly List<List<byte[]>> _growing = [[]];
    private readonly List<long> _done = [0];
    private readonly Dictionary<(int Level, long Index), byte[]> _changed = [];

    /// <summary>
    /// A writer that goes on at <paramref name="from"/> leaves, a multiple of 256; null where the tiles to go on from
    /// are not in the database.
    /// </summary>
    internal static async Task<TileWriter?> ResumeAsync(NpgsqlConnection connection, long from, CancellationToken cancellation)
    {
        var writer = new TileWriter();
        writer._done[0] = from / Width;
        for (var level = 1; from >> (8 * level) > 0; level++)
        {
            var nodes = from >> (8 * level);
            var tile = nodes / Width;
            var count = (int)(nodes % Width);
            writer._done.Add(tile);
            writer._growing.Add([]);
            if (count == 0)
            {
                continue;
            }

            await using var read = new NpgsqlCommand(
                "select hashes from trace.log_tile where level = $1 and index = $2", connection)
            {
                Parameters = { new() { Value = level }, new() { Value = tile } },
            };
            if (await read.ExecuteScalarAsync(cancellation) is not byte[] hashes || hashes.Length < count * Merkle.HashSize)
            {
                return null;
            }

            writer._growing[level].AddRange(hashes.Chunk(Merkle.HashSize).Take(count));
        }

        return writer;
    }

    internal void Append(byte[] leafHash) => Append(0, leafHash);

    private void Append(int level, byte[] hash)
    {
        if (level == _growing.Count)
        {
            _growing.Add([]);
            _done.Add(0);
        }

        var tile = _growing[level];
        tile.Add(hash);
        var whole = tile.Count == Width;
        if (level > 0 || whole)
        {
            _changed[(level, _done[level])] = [.. tile.SelectMany(h => h)];
        }

        if (whole)
        {
            Append(level + 1, Merkle.Root(tile));
            tile.Clear();
            _done[level]++;
        }
    }

    /// <summary>Writes what changed; answers how many tiles in the database said something else.</summary>
    internal async Task<int> FlushAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        if (_changed.Count == 0)
        {
            return 0;
        }

        const string write =
            """
            with given as (select * from unnest($1, $2, $3) as g(level, index, hashes)),
            wrong as (
                select 1 from given join trace.log_tile t using (level, index)
                where substring(t.hashes from 1 for octet_length(given.hashes))
                    <> substring(given.hashes from 1 for octet_length(t.hashes))),
            written as (
                insert into trace.log_tile as t (level, index, hashes) select level, index, hashes from given
                on conflict (level, index) do update set hashes = excluded.hashes
                where octet_length(excluded.hashes) > octet_length(t.hashes)
                    or substring(t.hashes from 1 for octet_length(excluded.hashes)) <> excluded.hashes)
            select count(*)::int from wrong
            """;
        var rows = _changed.ToArray();
        await using var command = new NpgsqlCommand(write, connection)
        {
            Parameters =
            {
                new() { Value = rows.Select(r => r.Key.Level).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Integer },
                new() { Value = rows.Select(r => r.Key.Index).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Bigint },
                new() { Value = rows.Select(r => r.Value).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Bytea },
            },
        };
        _changed.Clear();
        return (int)(await command.ExecuteScalarAsync(cancellation))!;
    }
}

/// <summary>Hashes of whole subtrees from tiles, and from loose leaves where a tile is not full yet. For one answer.</summary>
internal sealed class TileReader(NpgsqlConnection connection)
{
    private readonly Dictionary<(int Level, long Index), byte[][]> _tiles = [];
    private readonly Dictionary<TreeNode, byte[]> _nodes = [];

    internal async Task<byte[]> RangeAsync(LeafRange range, CancellationToken cancellation)
    {
        var hashes = new List<byte[]>();
        foreach (var node in Merkle.Nodes(range))
        {
            if (!_nodes.TryGetValue(node, out var hash))
            {
                _nodes[node] = hash = await NodeAsync(node, cancellation);
            }

            hashes.Add(hash);
        }

        return Merkle.Fold(hashes);
    }

    private async Task<byte[]> NodeAsync(TreeNode node, CancellationToken cancellation)
    {
        var (level, inside) = (node.Level / 8, node.Level % 8);
        var first = node.Index << inside;
        var tile = await TileAsync(level, first / TileWriter.Width, cancellation);
        var start = (int)(first % TileWriter.Width);
        var count = 1 << inside;
        return tile.Length >= start + count
            ? Merkle.Root(tile[start..(start + count)])
            : throw new LogContradictionException(string.Create(
                CultureInfo.InvariantCulture, $"The log has no hash of the subtree at level {node.Level}, index {node.Index}."));
    }

    internal async Task<byte[][]> TileAsync(int level, long index, CancellationToken cancellation)
    {
        if (_tiles.TryGetValue((level, index), out var known))
        {
            return known;
        }

        await using var read = new NpgsqlCommand(
            "select hashes from trace.log_tile where level = $1 and index = $2", connection)
        {
            Parameters = { new() { Value = level }, new() { Value = index } },
        };
        var tile = await read.ExecuteScalarAsync(cancellation) is byte[] hashes
            ? [.. hashes.Chunk(Merkle.HashSize)]
            : level == 0 ? await LeavesAsync(connection, index * TileWriter.Width, TileWriter.Width, cancellation) : [];
        return _tiles[(level, index)] = tile;
    }

    /// <summary>Leaf hashes from one index on, as far as they follow without a gap.</summary>
    internal static async Task<byte[][]> LeavesAsync(
        NpgsqlConnection connection, long from, int count, CancellationToken cancellation)
    {
        await using var read = new NpgsqlCommand(
            "select index, hash from trace.log_leaf where index >= $1 and index < $2 order by index", connection)
        {
            Parameters = { new() { Value = from }, new() { Value = from + count } },
        };
        await using var rows = await read.ExecuteReaderAsync(cancellation);
        var leaves = new List<byte[]>(Math.Min(count, 4096));
        while (await rows.ReadAsync(cancellation))
        {
            var index = rows.GetInt64(0);
            if (index != from + leaves.Count)
            {
                throw new LogContradictionException(string.Create(
                    CultureInfo.InvariantCulture, $"The log has no leaf {from + leaves.Count}, but leaf {index} after it."));
            }

            leaves.Add(rows.GetFieldValue<byte[]>(1));
        }

        return [.. leaves];
    }
}
