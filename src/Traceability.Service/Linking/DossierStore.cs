using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Service.Linking;

/// <summary>Gathers dossiers from the link index. Reads committed records only, never a view, so it is right while daemon and assembler are stopped.</summary>
public sealed class DossierStore(NpgsqlDataSource source, PlantTime time)
{
    // Parts (0) lead to parts, rules and judges; rules (1) to rules; judges (2) to judges: the same steps as Links.Follow.
    // With each record come its family (the record it changes or contradicts, and all that change or contradict that one,
    // and so on) and its person's certificates, because a correction can move work to a subject no link of its own names.
    // "offset 0" keeps the planner, which expects a recursion to yield a hundred thousand times too much, from reading
    // whole tables instead of single rows by their index.
    private const string Gathered = """
            union
            select l.to_subject, case l.kind when 1 then 0 when 3 then 1 else 2 end
            from walk w join trace.link l on l.from_subject = w.subject
            where l.position <= $2 and ((w.reach = 0 and l.kind in (1, 2, 3)) or (w.reach = 1 and l.kind = 3) or (w.reach = 2 and l.kind = 2))
        ), gathered(position) as (
            select a.position from (select distinct subject from walk) s join trace.about a on a.subject = s.subject where a.position <= $2
            union
            select n.position from gathered g
            cross join lateral (select r.id, r.person from trace.record r where r.position = g.position offset 0) r
            cross join lateral (
                select a.position from trace.about a where a.subject = 'record:' || r.id::text
                union all
                select other.position from trace.about own join trace.about other on other.subject = own.subject
                where own.position = g.position and own.subject like 'record:%'
                union all
                select named.position from trace.about own
                join trace.record named on named.id = case when own.subject like 'record:%' then substring(own.subject from 8)::uuid end
                where own.position = g.position
                union all
                select a.position from trace.about a where a.subject = 'person:' || r.person
            ) n where n.position <= $2
        )
        """;

    private const string Closure = $"""
        with recursive walk(subject, reach) as (
            select $1::text, 0
        {Gathered}
        select g.position, r.leaf_hash from gathered g
        cross join lateral (select r.leaf_hash from trace.record r where r.position = g.position offset 0) r order by g.position
        """;

    private const string ClosureOfSeveral = $"""
        with recursive walk(subject, reach) as (
            select unnest($1::text[]), 0
        {Gathered}
        select position from gathered
        """;

    // From several subjects, each reached in its own way (3: its records only), and records named besides; what was walked comes with it.
    private static readonly string s_closureFrom = $"""
        with recursive walk(subject, reach) as (
            select * from unnest($1::text[], $3::int[])
        {Gathered.Replace("        ), gathered(position) as (\n", "        ), gathered(position) as (\n            select r.position from trace.record r where r.id = any($4::uuid[]) and r.position <= $2\n            union\n", StringComparison.Ordinal)}
        select g.position, r.leaf_hash, null::text, null::int from gathered g
        cross join lateral (select r.leaf_hash from trace.record r where r.position = g.position offset 0) r
        union all
        select null, null, w.subject, w.reach from walk w
        """;

    // Units share most of what bears on them (rules, certificates, lots), and a record never changes: it is read once.
    private static readonly RecordsRead s_read = new();

    /// <summary>The newest log position.</summary>
    public async Task<long> NewestAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select coalesce(max(position), 0) from trace.record");
        return (long)(await command.ExecuteScalarAsync(cancel))!;
    }

    /// <summary>The moment of the store at a position (or the last one before it) or at a time; null when neither is given.</summary>
    public async Task<AsKnown?> AsKnownAsync(long? position, DateTimeOffset? at, CancellationToken cancel)
    {
        if (position is null && at is null) return null;
        await using var command = source.CreateCommand(at is null
            ? "select position, recorded_at from trace.record where position <= $1 order by position desc limit 1"
            : "select position, recorded_at from trace.record where recorded_at <= $1 order by recorded_at desc, position desc limit 1");
        command.Parameters.Add(new() { Value = at is null ? position!.Value : at.Value.UtcDateTime });
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? new(row.GetInt64(0), at ?? row.GetFieldValue<DateTimeOffset>(1)) : new(0, at ?? DateTimeOffset.UnixEpoch);
    }

    /// <summary>The dossier of a unit as known at a position; as known now when none is given.</summary>
    public async Task<Dossier> LoadAsync(Subject unit, long? position, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        return await LoadAsync(connection, time, unit, position, cancel);
    }

    /// <summary>The same, every record hashed anew before it is read: for what is signed.</summary>
    /// <exception cref="RecordChangedException">The stored bytes of one are not the ones that were recorded.</exception>
    public async Task<Dossier> LoadAsRecordedAsync(Subject unit, long? position, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        return await LoadAsRecordedAsync(connection, time, unit, position, cancel);
    }

    /// <summary>
    /// Whether nothing came for these subjects since their dossiers were read: one look at the index for all of them, without
    /// reading a record, so that the one writing transaction may ask it.
    /// </summary>
    public static async Task<bool> IsUnchangedAsync(NpgsqlConnection connection, IReadOnlyCollection<Dossier> dossiers, CancellationToken cancel)
    {
        var known = dossiers.SelectMany(d => d.Records).Select(r => r.Position).ToHashSet();
        await using var command = new NpgsqlCommand(ClosureOfSeveral, connection)
        { Parameters = { new() { Value = dossiers.Select(d => d.Unit.Key).ToArray() }, new() { Value = long.MaxValue } } };
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var count = 0;
        while (await reader.ReadAsync(cancel))
        {
            if (!known.Contains(reader.GetInt64(0))) return false;
            count++;
        }

        return count == known.Count;
    }

    /// <summary>
    /// The dossier of a unit as known at a position and with drafts, records that would come next, where they bear on it; every record hashed anew. With it comes
    /// what a further record must name to belong to it.
    /// </summary>
    /// <exception cref="RecordChangedException">The stored bytes of one are not the ones that were recorded.</exception>
    public static async Task<(Dossier Dossier, Bearing Bearing)> ForeseeAsync(NpgsqlConnection connection, PlantTime time, Subject unit, long position, IReadOnlyList<Record> drafts, CancellationToken cancel)
    {
        const int Only = 3;
        var from = new HashSet<(string Subject, int Reach)> { (unit.Key, (int)Links.Reach.Part) };
        var named = new HashSet<Guid>();
        var joined = new List<Record>();
        while (true)
        {
            var gathered = new List<(long Position, byte[] Leaf)>();
            var walked = new HashSet<(string Subject, int Reach)>();
            await using (var command = new NpgsqlCommand(s_closureFrom, connection)
            { Parameters = { new() { Value = from.Select(f => f.Subject).ToArray() }, new() { Value = position }, new() { Value = from.Select(f => f.Reach).ToArray() }, new() { Value = named.ToArray() } } })
            await using (var reader = await command.ExecuteReaderAsync(cancel))
            {
                while (await reader.ReadAsync(cancel))
                {
                    if (reader.IsDBNull(0)) walked.Add((reader.GetString(2), reader.GetInt32(3)));
                    else gathered.Add((reader.GetInt64(0), reader.GetFieldValue<byte[]>(1)));
                }
            }

            gathered.Sort((a, b) => a.Position.CompareTo(b.Position));
            // Before they are read, since changed bytes may not read at all.
            if (await StoredBytes.FirstChangedAsync(connection, gathered.ConvertAll(g => g.Position), cancel) is { } changed) throw new RecordChangedException(changed);
            IReadOnlyList<Record> records = [.. await s_read.GetAsync(connection, gathered, cancel), .. joined];
            var bearing = new Bearing(walked.Select(w => w.Subject), records);
            var grew = false;
            foreach (var draft in drafts.Where(d => !joined.Contains(d) && bearing.IsMetBy(d)))
            {
                joined.Add(draft);
                grew = true;
            }

            foreach (var draft in joined)
            {
                // A draft is in no index yet: its links and its family are followed here, by the same steps.
                foreach (var next in Bearing.NextOf(draft)) grew |= from.Add((next, Only));
                foreach (var id in Bearing.ChangedBy(draft)) grew |= named.Add(id);
                foreach (var link in draft.Links())
                {
                    foreach (var reach in Enum.GetValues<Links.Reach>())
                    {
                        if (walked.Contains((link.From.Key, (int)reach)) && Links.Follow(reach, link.Kind) is { } to && !walked.Contains((link.To.Key, (int)to))) grew |= from.Add((link.To.Key, (int)to));
                    }
                }
            }

            if (!grew) return (new Dossier(unit, position, [.. records.OrderBy(r => r.Position)], time), bearing);
        }
    }

    /// <summary>The same inside a transaction of the caller's.</summary>
    public static Task<Dossier> LoadAsync(NpgsqlConnection connection, PlantTime time, Subject unit, long? position, CancellationToken cancel) => LoadAsync(connection, time, unit, position, hashed: false, cancel);

    /// <summary>The same, every record hashed anew before it is read: for what a decision rests on.</summary>
    /// <exception cref="RecordChangedException">The stored bytes of one are not the ones that were recorded.</exception>
    public static Task<Dossier> LoadAsRecordedAsync(NpgsqlConnection connection, PlantTime time, Subject unit, long? position, CancellationToken cancel) => LoadAsync(connection, time, unit, position, hashed: true, cancel);

    private static async Task<Dossier> LoadAsync(NpgsqlConnection connection, PlantTime time, Subject unit, long? position, bool hashed, CancellationToken cancel)
    {
        if (position is null)
        {
            await using var newest = new NpgsqlCommand("select coalesce(max(position), 0) from trace.record", connection);
            position = (long)(await newest.ExecuteScalarAsync(cancel))!;
        }

        var gathered = new List<(long Position, byte[] Leaf)>();
        await using (var command = new NpgsqlCommand(Closure, connection) { Parameters = { new() { Value = unit.Key }, new() { Value = position.Value } } })
        await using (var reader = await command.ExecuteReaderAsync(cancel))
        {
            while (await reader.ReadAsync(cancel)) gathered.Add((reader.GetInt64(0), reader.GetFieldValue<byte[]>(1)));
        }

        // Before they are read, since changed bytes may not read at all.
        if (hashed && await StoredBytes.FirstChangedAsync(connection, gathered.ConvertAll(g => g.Position), cancel) is { } changed) throw new RecordChangedException(changed);
        return new Dossier(unit, position.Value, await s_read.GetAsync(connection, gathered, cancel), time);
    }
}
