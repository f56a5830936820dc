using Marten;
using Npgsql;
using Traceability.Core.Records;
using Traceability.Service.Assembling;

namespace Traceability.Service.Recall;

/// <summary>How a unit is linked with the subject of a recall.</summary>
public enum RecallHow
{
    /// <summary>The subject is in it.</summary>
    MadeFrom,

    /// <summary>The subject judged it or a part of it.</summary>
    JudgedBy,

    /// <summary>The subject is a rule it was made under.</summary>
    GovernedBy,
}

/// <param name="Certain">By at least one way without a storage.</param>
/// <param name="StillNamed">False when only records that no longer count named the link; null while the unit's row is not written yet.</param>
public sealed record RecalledUnit(string Serial, RecallHow How, bool Certain, bool? StillNamed, string Phase, string? Mark, string? Contract, string? Place);

/// <summary>Another subject on the way.</summary>
public sealed record RecallStep(string Key, int Kind, bool Possible);

/// <summary>A recall: units above the subject, and its own parts and judges one step below and above.</summary>
public sealed record RecallAnswer(IReadOnlyList<RecalledUnit> Units, bool More, IReadOnlyList<RecallStep> MadeFrom, IReadOnlyList<RecallStep> PartOf, long Position);

/// <summary>Which units does a heat, a lot, an instrument, a person reach, and where are they: through the link index, upwards.</summary>
public sealed class RecallReader(NpgsqlDataSource source, IDocumentStore store)
{
    private const int Most = 1000;

    // The steps of Links.Follow, walked upwards. How the subject itself is taken (part, rule, judge) is carried along.
    private const string Above = """
        with recursive walk(subject, reach, how, possible) as (
            select $1::text, r, r, false from unnest(array[0, 1, 2]) r
            union
            select l.from_subject, s.reach, w.how, w.possible or l.possible
            from walk w
            join trace.link l on l.to_subject = w.subject and l.kind = case w.reach when 0 then 1 when 1 then 3 else 2 end
            cross join lateral unnest(case w.reach when 0 then array[0] when 1 then array[0, 1] else array[0, 2] end) s(reach)
        )
        select substr(subject, 6), how, not bool_and(possible) from walk
        where subject like 'unit:%' and reach = 0 and subject <> $1
        group by subject, how order by subject, how limit $2
        """;

    public async Task<RecallAnswer> ReadAsync(Subject subject, CancellationToken cancel)
    {
        var found = new List<(string Serial, RecallHow How, bool Certain)>();
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using (var command = new NpgsqlCommand(Above, connection) { Parameters = { new() { Value = subject.Key }, new() { Value = Most + 1 } } })
        await using (var row = await command.ExecuteReaderAsync(cancel))
        {
            while (await row.ReadAsync(cancel))
                found.Add((row.GetString(0), row.GetInt32(1) switch { 0 => RecallHow.MadeFrom, 1 => RecallHow.GovernedBy, _ => RecallHow.JudgedBy }, row.GetBoolean(2)));
        }

        // A subject that is in a unit is not listed again as having judged it.
        found = [.. found.GroupBy(f => f.Serial, StringComparer.Ordinal).Select(g => g.OrderBy(f => f.How).First())];
        await using var session = store.QuerySession();
        var rows = (await session.LoadManyAsync<UnitRow>(cancel, found.Take(Most).Select(f => f.Serial).ToArray())).ToDictionary(r => r.Id, StringComparer.Ordinal);
        var units = found.Take(Most).Select(f => rows.GetValueOrDefault(f.Serial) is { } r
            ? new RecalledUnit(f.Serial, f.How, f.Certain, r.Reached.Contains(subject.Key, StringComparer.Ordinal), Pages.Words.Of(r.Phase), r.Mark, r.Contract, r.Place)
            : new RecalledUnit(f.Serial, f.How, f.Certain, null, "not assembled yet", null, null, null)).ToList();
        await using var newest = new NpgsqlCommand("select coalesce(max(position), 0) from trace.record", connection);
        return new(units, found.Count > Most,
            await StepsAsync(connection, "select to_subject, kind, possible from trace.link where from_subject = $1 order by kind, to_subject limit 200", subject, cancel),
            await StepsAsync(connection, "select from_subject, kind, possible from trace.link where to_subject = $1 order by kind, from_subject limit 200", subject, cancel),
            (long)(await newest.ExecuteScalarAsync(cancel))!);
    }

    private static async Task<IReadOnlyList<RecallStep>> StepsAsync(NpgsqlConnection connection, string sql, Subject subject, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand(sql, connection) { Parameters = { new() { Value = subject.Key } } };
        await using var row = await command.ExecuteReaderAsync(cancel);
        var steps = new List<RecallStep>();
        while (await row.ReadAsync(cancel)) steps.Add(new(row.GetString(0), row.GetInt16(1), row.GetBoolean(2)));
        return steps;
    }
}
