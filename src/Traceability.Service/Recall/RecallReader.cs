using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;
using Traceability.Service.Assembling;
using Traceability.Service.Linking;

namespace Traceability.Service.Recall;

/// <summary>One unit that a recall names.</summary>
/// <param name="Certain">By at least one way that no storage makes uncertain.</param>
/// <param name="Named">False when only the index of links names it; null while records about it wait to be judged.</param>
/// <param name="Phase">Null while the unit was never judged.</param>
/// <param name="Delivery">Delivery and destination, once it was shipped.</param>
public sealed record RecalledUnit(string Serial, ReachHow How, bool Certain, bool? Named, UnitPhase? Phase, string? Mark, string? Contract, string? Place, string? Delivery, string? Destination);

/// <summary>How many units a recall names, by how and by certainty; those that only the index names are counted apart.</summary>
public sealed record RecallCounts(int Total, int Certain, int Possible, int Judged, int Governed, int NoLongerNamed, int Shipped, int Waiting);

/// <summary>The units a subject reaches, all of them, by serial.</summary>
/// <param name="Position">Every record up to this log position was considered.</param>
/// <param name="Judged">False when records or units were still waiting, and the index of links was read as well.</param>
public sealed record RecallUp(Subject Subject, long Position, bool Judged, IReadOnlyList<RecalledUnit> Units, RecallCounts Counts);

/// <summary>What a subject is made from, judged by and governed by, judged now.</summary>
public sealed record RecallDown(Subject Subject, long Position, IReadOnlyList<ReachedSubject> Subjects);

/// <summary>Another subject one step away.</summary>
/// <param name="Possible">Only through a storage.</param>
public sealed record RecallStep(string Key, LinkKind Kind, bool Possible);

/// <summary>
/// Which units does a heat, a lot, a storage, an instrument, a person reach, and where are they; and what is in a unit.
/// Upwards it reads the assembler's rows; while records or units wait to be judged it reads the index of links beside
/// them, so that no unit is missed. Downwards it reads the records.
/// </summary>
public sealed class RecallReader(NpgsqlDataSource source, DossierStore dossiers)
{
    // Newest position, and whether anything waits: for the subscription or for the assembler.
    private const string Waiting = """
        select n.position, n.position > coalesce((select min(last_seq_id) from marten.mt_event_progression where name like 'MarkStale%'), 0)
            or exists (select from trace.stale_unit)
        from (select coalesce(max(position), 0) as position from trace.record) n
        """;

    private const string Reached = "select unit_no, how, certain, named from trace.reach where subject = $1 order by unit_no";

    private const string Cards = "select unit, no, phase, mark, contract, place, delivery, destination from trace.unit_card where ";

    /// <summary>
    /// Units of one lot are made one after the other, so their numbers lie close: up to so many times as many cards are read
    /// in one stretch, which is faster than one by one. Our own choice.
    /// </summary>
    private const int Sparse = 4;

    private static readonly Dictionary<string, UnitPhase> s_phases = Enum.GetValues<UnitPhase>().ToDictionary(p => p.ToString(), StringComparer.Ordinal);

    // The steps of Links.Follow, walked upwards. How the subject itself is taken (part, rule, judge) is carried along.
    private const string Above = """
        with recursive walk(subject, reach, how, possible) as (
            select $1::text, r, r, false from unnest(array[0, 1, 2]) r
            union
            select l.from_subject, s.reach, w.how, w.possible or l.possible
            from walk w
            join trace.link l on l.to_subject = w.subject and l.kind = case w.reach when 0 then 1 when 1 then 3 else 2 end
            cross join lateral unnest(case w.reach when 0 then array[0] when 1 then array[0, 1] else array[0, 2] end) s(reach)
        ), units as (
            select substr(subject, 6) as unit, how, not bool_and(possible) as certain from walk
            where subject like 'unit:%' and reach = 0 and subject <> $1
            group by subject, how
        )
        select u.unit, 0, c.phase, c.mark, c.contract, c.place, c.delivery, c.destination, u.how, u.certain, s.unit is not null or c.unit is null
        from units u left join trace.unit_card c on c.unit = u.unit left join trace.stale_unit s on s.unit = 'unit:' || u.unit
        """;

    public async Task<RecallUp> UpAsync(Subject subject, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        // One moment of the store for all that is read: rows that are made anew meanwhile are not missed between two statements.
        await using var snapshot = await connection.BeginTransactionAsync(System.Data.IsolationLevel.RepeatableRead, cancel);
        await using var both = new NpgsqlBatch(connection) { BatchCommands = { new(Waiting), new(Reached) { Parameters = { new() { Value = subject.Key } } } } };
        long position;
        bool waiting;
        var reached = new List<(int No, ReachHow How, bool Certain, bool Named)>();
        await using (var row = await both.ExecuteReaderAsync(cancel))
        {
            await row.ReadAsync(cancel);
            (position, waiting) = (row.GetInt64(0), row.GetBoolean(1));
            await row.NextResultAsync(cancel);
            while (await row.ReadAsync(cancel)) reached.Add((row.GetInt32(0), (ReachHow)row.GetInt16(1), row.GetBoolean(2), row.GetBoolean(3)));
        }

        var units = await WithCardsAsync(connection, reached, cancel);
        if (waiting) units = await WithIndexAsync(connection, subject, units, cancel);
        var sorted = units.ToArray();
        Array.Sort(sorted, (a, b) => string.CompareOrdinal(a.Serial, b.Serial));
        return new(subject, position, !waiting, sorted, Count(sorted));
    }

    // Both lists are by number.
    private static async Task<IReadOnlyCollection<RecalledUnit>> WithCardsAsync(NpgsqlConnection connection, List<(int No, ReachHow How, bool Certain, bool Named)> reached, CancellationToken cancel)
    {
        if (reached.Count == 0) return [];
        var (low, high) = (reached[0].No, reached[^1].No);
        var stretch = (long)high - low < (long)Sparse * reached.Count;
        await using var command = new NpgsqlCommand(Cards + (stretch ? "no between $1 and $2 order by no" : "no = any($1) order by no"), connection);
        if (stretch)
        {
            command.Parameters.Add(new() { Value = low });
            command.Parameters.Add(new() { Value = high });
        }
        else command.Parameters.Add(new() { Value = reached.ConvertAll(r => r.No) });
        var units = new List<RecalledUnit>(reached.Count);
        var at = 0;
        await using var row = await command.ExecuteReaderAsync(cancel);
        while (at < reached.Count && await row.ReadAsync(cancel))
        {
            var no = row.GetInt32(1);
            while (at < reached.Count && reached[at].No < no) at++;
            if (at < reached.Count && reached[at].No == no) units.Add(Read(row, reached[at].How, reached[at].Certain, reached[at].Named));
        }

        return units;
    }

    private static async Task<IReadOnlyCollection<RecalledUnit>> WithIndexAsync(NpgsqlConnection connection, Subject subject, IReadOnlyCollection<RecalledUnit> known, CancellationToken cancel)
    {
        var units = known.ToDictionary(u => u.Serial, StringComparer.Ordinal);
        await using var above = new NpgsqlCommand(Above, connection) { Parameters = { new() { Value = subject.Key } } };
        await using var row = await above.ExecuteReaderAsync(cancel);
        while (await row.ReadAsync(cancel))
        {
            var how = row.GetInt32(8) switch { 0 => ReachHow.MadeFrom, 1 => ReachHow.GovernedBy, _ => ReachHow.JudgedBy };
            var serial = row.GetString(0);
            // What the rows say stands, unless it is about to be judged anew and they deny it; of several ways the closest counts.
            if (units.TryGetValue(serial, out var had) && (had.Named == true || (had.Named == false && !row.GetBoolean(10)) || (had.Named is null && had.How <= how))) continue;
            units[serial] = Read(row, how, row.GetBoolean(9), null);
        }

        return units.Values;
    }

    /// <summary>What a unit or any other subject is made from, was judged by and is governed by, as known at a position; now when none is given.</summary>
    public async Task<RecallDown> DownAsync(Subject subject, long? position, CancellationToken cancel)
    {
        var dossier = await dossiers.LoadAsync(subject, position, cancel);
        return new(subject, dossier.Position, UnitReach.Of(dossier, Assemble.Unit(dossier)));
    }

    /// <summary>Whether any record is about the subject or names it.</summary>
    public async Task<bool> IsKnownAsync(Subject subject, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select exists (select from trace.about where subject = $1) or exists (select from trace.link where to_subject = $1)");
        command.Parameters.Add(new() { Value = subject.Key });
        return (bool)(await command.ExecuteScalarAsync(cancel))!;
    }

    /// <summary>The subjects one step above and below, by the index of links, at most so many either way.</summary>
    public async Task<(IReadOnlyList<RecallStep> Below, IReadOnlyList<RecallStep> Above)> StepsAsync(Subject subject, int most, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        return (await ReadAsync("select to_subject, kind, bool_and(possible) from trace.link where from_subject = $1 group by 1, 2 order by 2, 1 limit $2"),
            await ReadAsync("select from_subject, kind, bool_and(possible) from trace.link where to_subject = $1 group by 1, 2 order by 2, 1 limit $2"));

        async Task<IReadOnlyList<RecallStep>> ReadAsync(string sql)
        {
            await using var command = new NpgsqlCommand(sql, connection) { Parameters = { new() { Value = subject.Key }, new() { Value = most } } };
            await using var row = await command.ExecuteReaderAsync(cancel);
            var steps = new List<RecallStep>();
            while (await row.ReadAsync(cancel)) steps.Add(new(row.GetString(0), (LinkKind)row.GetInt16(1), row.GetBoolean(2)));
            return steps;
        }
    }

    private static RecalledUnit Read(NpgsqlDataReader row, ReachHow how, bool certain, bool? named)
    {
        string? Text(int column) => row.IsDBNull(column) ? null : row.GetString(column);
        return new(row.GetString(0), how, certain, named, Text(2) is { } name && s_phases.TryGetValue(name, out var phase) ? phase : null, Text(3), Text(4), Text(5), Text(6), Text(7));
    }

    private static RecallCounts Count(IReadOnlyCollection<RecalledUnit> units)
    {
        int certain = 0, possible = 0, judged = 0, governed = 0, gone = 0, shipped = 0, waiting = 0;
        foreach (var unit in units)
        {
            if (unit.Named is null) waiting++;
            if (unit.Named == false) gone++;
            else if (unit.How == ReachHow.JudgedBy) judged++;
            else if (unit.How == ReachHow.GovernedBy) governed++;
            else if (unit.Certain) certain++;
            else possible++;
            if (unit.Named != false && unit.Phase is { } phase && UnitState.HasLeft(phase)) shipped++;
        }

        return new(units.Count, certain, possible, judged, governed, gone, shipped, waiting);
    }
}
