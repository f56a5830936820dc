using System.Collections.Concurrent;
using Npgsql;
using Traceability.Core.Records;

namespace Traceability.Service.Linking;

/// <summary>
/// Records read lately, by position and leaf hash: the hash of their exact bytes makes it impossible to be handed another
/// record, whatever database it was read from. Bounded by the bytes it holds: when the young half is full it becomes the
/// old one, and the old one goes.
/// </summary>
internal sealed class RecordsRead
{
    /// <summary>Bytes of the records in one half. Our own choice: some ten thousand records.</summary>
    private const long Half = 24L << 20;

    private ConcurrentDictionary<Key, Record> _young = new();
    private ConcurrentDictionary<Key, Record> _old = new();
    private long _bytes;

    /// <summary>The records at these positions, in their order.</summary>
    public async Task<IReadOnlyList<Record>> GetAsync(NpgsqlConnection connection, IReadOnlyList<(long Position, byte[] Leaf)> wanted, CancellationToken cancel)
    {
        var records = new Record[wanted.Count];
        List<long>? missing = null;
        for (var i = 0; i < wanted.Count; i++)
        {
            if (Find(new(wanted[i].Position, wanted[i].Leaf)) is { } record) records[i] = record;
            else (missing ??= []).Add(wanted[i].Position);
        }

        if (missing is null) return records;
        var read = new Dictionary<long, Record>(missing.Count);
        await using (var command = new NpgsqlCommand("select position, bytes from trace.record where position = any($1)", connection) { Parameters = { new() { Value = missing } } })
        await using (var reader = await command.ExecuteReaderAsync(cancel))
        {
            while (await reader.ReadAsync(cancel))
            {
                var record = Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0));
                read[record.Position] = record;
                // Under the hash of what was read, not of what its row says: changed bytes are never handed out for the right ones.
                Keep(new(record.Position, Record.LeafHash(record.Bytes.Span)), record);
            }
        }

        for (var i = 0; i < records.Length; i++) records[i] ??= read[wanted[i].Position];
        return records;
    }

    private Record? Find(Key key)
    {
        if (_young.TryGetValue(key, out var record)) return record;
        if (!_old.TryGetValue(key, out record)) return null;
        Keep(key, record);
        return record;
    }

    private void Keep(Key key, Record record)
    {
        if (!_young.TryAdd(key, record) || Interlocked.Add(ref _bytes, record.Bytes.Length) < Half) return;
        Interlocked.Exchange(ref _bytes, 0);
        _old = _young;
        _young = new();
    }

    private readonly record struct Key(long Position, byte[] Leaf)
    {
        public bool Equals(Key other) => Position == other.Position && Leaf.AsSpan().SequenceEqual(other.Leaf);

        public override int GetHashCode() => HashCode.Combine(Position, BitConverter.ToInt32(Leaf));
    }
}
