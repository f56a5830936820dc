using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Linking;

namespace Traceability.Service.Units;

/// <summary>One nonconformance as it stands.</summary>
public sealed record NonconformanceRow(NonconformanceState State, IReadOnlyList<string> Units, string? RaisedBy, Guid Record, IReadOnlyList<NonconformanceApproved> Approvals)
{
    public bool Closed => State.Awaited == Awaited.Nothing;
}

/// <summary>Reads the nonconformances of the plant from the records, now; of a view nothing.</summary>
public sealed class NonconformanceReader(NpgsqlDataSource source, PlantTime time)
{
    /// <summary>Most that are shown, the newest. Our own choice.</summary>
    private const int Most = 500;

    // With their corrections and withdrawals, and the changes of those.
    private const string Sql = """
        with recursive found(position) as (
            (select position from trace.record where type = 'nonconformance.raised.v1' order by position desc limit $1)
            union
            select a.position from found f join trace.record r on r.position = f.position join trace.about a on a.subject = 'record:' || r.id::text
        )
        select r.position, r.bytes from found f join trace.record r on r.position = f.position order by r.position
        """;

    /// <summary>Open ones first, the oldest first.</summary>
    public async Task<IReadOnlyList<NonconformanceRow>> ReadAsync(CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        var raised = new List<Record>();
        await using (var command = new NpgsqlCommand(Sql, connection) { Parameters = { new() { Value = Most } } })
        {
            await using var reader = await command.ExecuteReaderAsync(cancel);
            while (await reader.ReadAsync(cancel)) raised.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        }

        var rows = new List<NonconformanceRow>();
        foreach (var ofUnit in Assemble.Counted(raised, time).Where(e => e.Fact is NonconformanceRaised).GroupBy(e => ((NonconformanceRaised)e.Fact).Units[0], StringComparer.Ordinal))
        {
            var file = Assemble.Unit(await DossierStore.LoadAsync(connection, time, Subject.Unit(ofUnit.Key), null, cancel));
            foreach (var state in NonconformanceState.Of(file))
            {
                if (ofUnit.FirstOrDefault(e => e.Fact.About == Subject.Nonconformance(state.Id)) is not { } first) continue;
                rows.Add(new(state, ((NonconformanceRaised)first.Fact).Units, first.Person, first.Source.Id, [.. file.Of<NonconformanceApproved>().Where(a => a.Fact.Nonconformance == state.Id).Select(a => a.Fact)]));
            }
        }

        return [.. rows.DistinctBy(r => r.State.Id).OrderBy(r => r.Closed).ThenBy(r => r.State.RaisedAt).ThenBy(r => r.State.Id, StringComparer.Ordinal)];
    }
}
