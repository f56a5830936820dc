using Npgsql;

namespace Traceability.Service.Decisions;

/// <summary>Units above some records, and above subjects that are named besides: everything they may bear on. May name a unit too many, never one too few.</summary>
internal static class AffectedUnits
{
    // "offset 0": the planner expects a recursion to yield far too much and would read whole tables.
    private const string Sql = """
        with recursive up(subject) as (
            select distinct a.subject from unnest($1) p(position) cross join lateral (select a.subject from trace.about a where a.position = p.position offset 0) a
            union
            select unnest($3::text[])
            union
            select l.from_subject from up join trace.link l on l.to_subject = up.subject
        )
        select subject from up where subject like 'unit:%' order by subject limit $2
        """;

    public static async Task<IReadOnlyList<Core.Records.Subject>> AboveAsync(NpgsqlConnection connection, long[] positions, int most, CancellationToken cancel, string[]? subjects = null)
    {
        await using var command = new NpgsqlCommand(Sql, connection) { Parameters = { new() { Value = positions }, new() { Value = most }, new() { Value = subjects ?? [] } } };
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var units = new List<Core.Records.Subject>();
        while (await reader.ReadAsync(cancel)) units.Add(Core.Records.Subject.Parse(reader.GetString(0)));
        return units;
    }
}
