using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Service.Linking;

/// <summary>Gathers dossiers from the link index. Reads committed records only, never a view, so it is right while daemon and assembler are stopped.</summary>
public sealed class DossierStore(NpgsqlDataSource source)
{
    // Parts (0) lead to parts, rules and judges; rules (1) to rules; judges (2) to judges: the same steps as Links.Follow.
    private const string Closure = """
        with recursive walk(subject, reach) as (
            select $1::text, 0
            union
            select l.to_subject, case l.kind when 1 then 0 when 3 then 1 else 2 end
            from walk w join trace.link l on l.from_subject = w.subject
            where l.position <= $2 and ((w.reach = 0 and l.kind in (1, 2, 3)) or (w.reach = 1 and l.kind = 3) or (w.reach = 2 and l.kind = 2))
        ), bearing as (
            select distinct a.position from (select distinct subject from walk) s join trace.about a on a.subject = s.subject where a.position <= $2
        ), changing as (
            select a.position from bearing b join trace.record r on r.position = b.position
            join trace.about a on a.subject = 'record:' || coalesce(r.conflict_of, r.id)::text where a.position <= $2
        )
        select r.position, r.bytes from (select position from bearing union select position from changing) p
        join trace.record r on r.position = p.position order by r.position
        """;

    /// <summary>The newest log position.</summary>
    public async Task<long> NewestAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select coalesce(max(position), 0) from trace.record");
        return (long)(await command.ExecuteScalarAsync(cancel))!;
    }

    /// <summary>The dossier of a unit as known at a position; as known now when none is given.</summary>
    public async Task<Dossier> LoadAsync(Subject unit, long? position, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        return await LoadAsync(connection, unit, position, cancel);
    }

    /// <summary>The same inside a transaction of the caller's.</summary>
    public static async Task<Dossier> LoadAsync(NpgsqlConnection connection, Subject unit, long? position, CancellationToken cancel)
    {
        if (position is null)
        {
            await using var newest = new NpgsqlCommand("select coalesce(max(position), 0) from trace.record", connection);
            position = (long)(await newest.ExecuteScalarAsync(cancel))!;
        }

        await using var command = new NpgsqlCommand(Closure, connection) { Parameters = { new() { Value = unit.Key }, new() { Value = position.Value } } };
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var records = new List<Record>();
        while (await reader.ReadAsync(cancel)) records.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        return new Dossier(unit, position.Value, records);
    }
}
