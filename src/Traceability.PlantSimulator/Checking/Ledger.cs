using System.Security.Cryptography;
using System.Text;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Acting;

namespace Traceability.PlantSimulator.Checking;

/// <summary>What the check found. Every line of a list names a fact, a link or a leaf.</summary>
public sealed record CheckResult(
    int Intents, int Records, int Events, int Links, int Leaves, long Sealed,
    IReadOnlyList<string> Lost, IReadOnlyList<string> Unexpected, IReadOnlyList<string> Duplicated, IReadOnlyList<string> Differing, int Waiting)
{
    public bool IsGood => Lost.Count + Unexpected.Count + Duplicated.Count + Differing.Count == 0;

    public override string ToString() =>
        $"journal {Intents}, records {Records}, events {Events}, links {Links}, leaves {Leaves}, sealed {Sealed}, {Waiting} wait for a person; " +
        $"lost {Lost.Count}, unexpected {Unexpected.Count}, duplicated {Duplicated.Count}, differing {Differing.Count}";
}

/// <summary>
/// Holds the store against the journal: journal = records = events = links = leaves, by id and by hash. Works out links,
/// hashes and the root of the log itself from the stored bytes.
/// </summary>
public static class Ledger
{
    private sealed record Stored(long Position, Guid Id, string Source, string EventId, string ContentHash, byte[] LeafHash, byte[] Bytes, Guid? ConflictOf);

    /// <param name="journals">Files of intents of every simulator that sent to this store.</param>
    /// <param name="ownSources">
    /// Prefix of the sources of records that the service itself writes (decisions); these are in no journal.
    /// </param>
    public static async Task<CheckResult> CheckAsync(string database, IEnumerable<string> journals, string ownSources, CancellationToken cancel)
    {
        var lines = journals.SelectMany(Journal.Read).ToList();
        var refused = lines.Where(i => i.Refused).Select(i => (i.RecordId, i.ContentHash)).ToHashSet();
        var intents = lines.Where(i => !refused.Contains((i.RecordId, i.ContentHash))).DistinctBy(i => (i.RecordId, i.ContentHash)).ToList();
        await using var source = NpgsqlDataSource.Create(database);
        var records = await RecordsAsync(source, cancel);
        List<string> lost = [], unexpected = [], duplicated = [], differing = [];

        var waiting = await WaitingAsync(source, cancel);
        Records(intents, refused, records, waiting, ownSources, lost, unexpected, duplicated, differing);
        var events = await EventsAsync(source, records, lost, unexpected, duplicated, cancel);
        var links = await LinksAsync(source, records, lost, unexpected, cancel);
        var (leaves, sealedSize) = await LeavesAsync(source, records, lost, unexpected, duplicated, differing, cancel);
        return new CheckResult(intents.Count, records.Count, events, links, leaves, sealedSize, lost, unexpected, duplicated, differing, intents.Count(i => waiting.Contains((i.Source, i.Id, i.ContentHash))));
    }

    private static void Records(
        List<Intent> intents, HashSet<(Guid, string)> refused, List<Stored> records, HashSet<(string, string, string)> waiting, string ownSources, List<string> lost, List<string> unexpected, List<string> duplicated, List<string> differing)
    {
        var byKey = records.ToLookup(r => (r.Source, r.EventId, r.ContentHash));
        var meant = intents.Select(i => (i.Source, i.Id, i.ContentHash)).ToHashSet();
        foreach (var intent in intents)
        {
            var found = byKey[(intent.Source, intent.Id, intent.ContentHash)].ToList();
            // What waits for a person is kept, and counts once it is approved.
            if (found.Count == 0 && !waiting.Contains((intent.Source, intent.Id, intent.ContentHash))) lost.Add($"record {intent.Source} {intent.Id} {intent.ContentHash}");
            if (found.Count > 1) duplicated.Add($"record {intent.Source} {intent.Id}: {found.Count} times");
            foreach (var record in found.Where(r => r.Id != intent.RecordId && r.ConflictOf != intent.RecordId))
                differing.Add($"record {intent.Source} {intent.Id} has id {record.Id} instead of {intent.RecordId}");
        }

        foreach (var record in records)
        {
            // A fact refused at the end may have been taken in before an answer was lost; then it is there, and rightly.
            if (!meant.Contains((record.Source, record.EventId, record.ContentHash)) && !record.Source.StartsWith(ownSources, StringComparison.Ordinal)
                && !refused.Contains((RecordId.Of(record.Source, record.EventId), record.ContentHash)))
                unexpected.Add($"record {record.Source} {record.EventId} {record.ContentHash}");
            var kept = Record.Read(record.Bytes, record.Position);
            if (kept.Sent.ContentHash != record.ContentHash || kept.Id != record.Id) differing.Add($"the bytes of record {record.Id} are of another fact");
            if (!record.LeafHash.AsSpan().SequenceEqual(Record.LeafHash(record.Bytes))) differing.Add($"the leaf hash of record {record.Id} is not that of its bytes");
        }
    }

    private static async Task<HashSet<(string, string, string)>> WaitingAsync(NpgsqlDataSource source, CancellationToken cancel)
    {
        var waiting = new HashSet<(string, string, string)>();
        await using var command = source.CreateCommand("select source, event_id, content_hash from trace.quarantine where cleared_at is null and waits_for <> 'administrator'");
        await using var reader = await command.ExecuteReaderAsync(cancel);
        while (await reader.ReadAsync(cancel)) waiting.Add((reader.GetString(0), reader.GetString(1), reader.GetString(2)));
        return waiting;
    }

    private static async Task<int> EventsAsync(
        NpgsqlDataSource source, List<Stored> records, List<string> lost, List<string> unexpected, List<string> duplicated, CancellationToken cancel)
    {
        var events = new List<(Guid Id, long Position)>();
        await using var command = source.CreateCommand("select id, seq_id from marten.mt_events where type <> 'tombstone'");
        await using var reader = await command.ExecuteReaderAsync(cancel);
        while (await reader.ReadAsync(cancel)) events.Add((reader.GetGuid(0), reader.GetInt64(1)));

        var known = events.ToHashSet();
        var stored = records.Select(r => (r.Id, r.Position)).ToHashSet();
        lost.AddRange(stored.Except(known).Select(e => $"event {e.Id} at {e.Position}"));
        unexpected.AddRange(known.Except(stored).Select(e => $"event {e.Id} at {e.Position}"));
        duplicated.AddRange(events.GroupBy(e => e.Id).Where(g => g.Count() > 1).Select(g => $"event {g.Key}: {g.Count()} times"));
        return events.Count;
    }

    private static async Task<int> LinksAsync(NpgsqlDataSource source, List<Stored> records, List<string> lost, List<string> unexpected, CancellationToken cancel)
    {
        var abouts = new HashSet<(string, long)>();
        var steps = new HashSet<(string From, int Kind, string To, bool Possible)>();
        foreach (var record in records)
        {
            foreach (var link in Record.Read(record.Bytes, record.Position).Links())
            {
                if (link.Kind == LinkKind.About) abouts.Add((link.From.Key, record.Position));
                else steps.Add((link.From.Key, (int)link.Kind, link.To.Key, link.Possible));
            }
        }

        var aboutsKept = new HashSet<(string, long)>();
        await using (var command = source.CreateCommand("select subject, position from trace.about"))
        await using (var reader = await command.ExecuteReaderAsync(cancel))
        {
            while (await reader.ReadAsync(cancel)) aboutsKept.Add((reader.GetString(0), reader.GetInt64(1)));
        }

        var stepsKept = new HashSet<(string From, int Kind, string To, bool Possible)>();
        await using (var command = source.CreateCommand("select from_subject, kind, to_subject, possible from trace.link"))
        await using (var reader = await command.ExecuteReaderAsync(cancel))
        {
            while (await reader.ReadAsync(cancel)) stepsKept.Add((reader.GetString(0), reader.GetInt16(1), reader.GetString(2), reader.GetBoolean(3)));
        }

        lost.AddRange(abouts.Except(aboutsKept).Select(l => $"link of the record at {l.Item2} to {l.Item1}"));
        lost.AddRange(steps.Except(stepsKept).Select(Step));
        unexpected.AddRange(aboutsKept.Except(abouts).Select(l => $"link of the record at {l.Item2} to {l.Item1}"));
        unexpected.AddRange(stepsKept.Except(steps).Select(Step));
        return aboutsKept.Count + stepsKept.Count;

        static string Step((string From, int Kind, string To, bool Possible) link) => $"link {link.From} -{(LinkKind)link.Kind}-> {link.To}{(link.Possible ? ", possible" : "")}";
    }

    private static async Task<(int, long)> LeavesAsync(
        NpgsqlDataSource source, List<Stored> records, List<string> lost, List<string> unexpected, List<string> duplicated, List<string> differing, CancellationToken cancel)
    {
        var leaves = new List<(long Index, long Position, Guid Id, byte[] Hash)>();
        await using (var command = source.CreateCommand("select index, position, record_id, hash from trace.log_leaf order by index"))
        await using (var reader = await command.ExecuteReaderAsync(cancel))
        {
            while (await reader.ReadAsync(cancel)) leaves.Add((reader.GetInt64(0), reader.GetInt64(1), reader.GetGuid(2), reader.GetFieldValue<byte[]>(3)));
        }

        var byId = records.ToDictionary(r => r.Id);
        for (var i = 0; i < leaves.Count; i++)
        {
            var leaf = leaves[i];
            if (leaf.Index != i) differing.Add($"leaf {leaf.Index} stands where leaf {i} belongs");
            if (i > 0 && leaf.Position <= leaves[i - 1].Position) differing.Add($"leaf {leaf.Index} is out of the order of positions");
            if (!byId.TryGetValue(leaf.Id, out var record)) unexpected.Add($"leaf {leaf.Index} of record {leaf.Id}");
            else if (!record.LeafHash.AsSpan().SequenceEqual(leaf.Hash)) differing.Add($"leaf {leaf.Index} is not the hash of record {leaf.Id}");
        }

        duplicated.AddRange(leaves.GroupBy(l => l.Id).Where(g => g.Count() > 1).Select(g => $"leaf of record {g.Key}: {g.Count()} times"));
        lost.AddRange(byId.Keys.Except(leaves.Select(l => l.Id)).Select(id => $"leaf of record {id}"));

        long size = 0;
        await using (var command = source.CreateCommand("select size, root from trace.checkpoint order by sealed_at desc, size desc limit 1"))
        await using (var reader = await command.ExecuteReaderAsync(cancel))
        {
            if (await reader.ReadAsync(cancel))
            {
                size = reader.GetInt64(0);
                if (size > leaves.Count) lost.Add($"leaves {leaves.Count} to {size - 1}, which are sealed");
                else if (size > 0 && !Root([.. leaves.Take((int)size).Select(l => l.Hash)]).AsSpan().SequenceEqual(reader.GetFieldValue<byte[]>(1)))
                    differing.Add($"the sealed root of size {size} is not the root of the leaves");
            }
        }

        return (leaves.Count, size);
    }

    private static async Task<List<Stored>> RecordsAsync(NpgsqlDataSource source, CancellationToken cancel)
    {
        var records = new List<Stored>();
        await using var command = source.CreateCommand("select position, id, source, event_id, content_hash, leaf_hash, bytes, conflict_of from trace.record order by position");
        await using var reader = await command.ExecuteReaderAsync(cancel);
        while (await reader.ReadAsync(cancel))
        {
            records.Add(new Stored(reader.GetInt64(0), reader.GetGuid(1), reader.GetString(2), reader.GetString(3), reader.GetString(4),
                reader.GetFieldValue<byte[]>(5), reader.GetFieldValue<byte[]>(6), reader.IsDBNull(7) ? null : reader.GetGuid(7)));
        }

        return records;
    }

    /// <summary>Merkle tree hash of RFC 6962, section 2.1, over leaf hashes.</summary>
    private static byte[] Root(ReadOnlySpan<byte[]> leaves)
    {
        if (leaves.Length == 1) return leaves[0];
        var split = 1;
        while (split * 2 < leaves.Length) split *= 2;
        return SHA256.HashData([1, .. Root(leaves[..split]), .. Root(leaves[split..])]);
    }
}
