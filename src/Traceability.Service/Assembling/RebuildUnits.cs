using Npgsql;

namespace Traceability.Service.Assembling;

/// <summary>Every unit's row anew: the rows are dropped and every unit is marked stale; the assembler does the rest while facts come in.</summary>
public static class RebuildUnits
{
    public static async Task<long> RunAsync(NpgsqlDataSource source, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using var transaction = await connection.BeginTransactionAsync(cancel);
        await using var command = new NpgsqlCommand("""
            delete from marten.mt_doc_unitrow;
            delete from trace.reach;
            delete from trace.unit_card;
            insert into trace.stale_unit (unit, since_position, priority)
            select subject, max(position), 1 from trace.about where subject like 'unit:%' group by subject order by subject
            on conflict (unit) do nothing
            """, connection, transaction);
        await command.ExecuteNonQueryAsync(cancel);
        await using var count = new NpgsqlCommand("select count(*) from trace.stale_unit", connection, transaction);
        var stale = (long)(await count.ExecuteScalarAsync(cancel))!;
        await transaction.CommitAsync(cancel);
        return stale;
    }
}
