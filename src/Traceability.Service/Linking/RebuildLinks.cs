using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Service.Linking;

/// <summary>
/// The link index anew from the records. Filled beside the old one while facts come in; the last stretch and the swap
/// hold the recorder's lock, for milliseconds.
/// </summary>
public static class RebuildLinks
{
    private const int Page = 2000;

    /// <param name="tell">Told after each page how many records are read, of how many there were at the start.</param>
    /// <returns>How many records were read before the last stretch.</returns>
    public static async Task<long> RunAsync(NpgsqlDataSource source, CancellationToken cancel, Action<long, long>? tell = null)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        await ExecuteAsync(connection, null, """
            drop table if exists trace.about_new; create table trace.about_new (like trace.about including all);
            drop table if exists trace.link_new; create table trace.link_new (like trace.link including all);
            """, cancel);
        var (done, count, all) = (0L, 0L, 0L);
        await using (var total = new NpgsqlCommand("select count(*) from trace.record", connection)) all = (long)(await total.ExecuteScalarAsync(cancel))!;
        while (true)
        {
            var (last, read) = await FillAsync(connection, null, done, cancel);
            count += read;
            tell?.Invoke(count, all);
            if (read < Page) break;
            done = last;
        }

        // Readers that hold one table and wait for the other can meet the swap; PostgreSQL then ends one of the two.
        for (var attempt = 1; ; attempt++)
        {
            try
            {
                await SwapAsync(connection, done, cancel);
                return count;
            }
            catch (PostgresException e) when (e.SqlState == PostgresErrorCodes.DeadlockDetected && attempt < 5)
            {
                await Task.Delay(TimeSpan.FromMilliseconds(100 * attempt), cancel);
            }
        }
    }

    private static async Task SwapAsync(NpgsqlConnection connection, long done, CancellationToken cancel)
    {
        await using var transaction = await connection.BeginTransactionAsync(cancel);
        await ExecuteAsync(connection, transaction, "select 1 from trace.recorder for update", cancel);
        while (true)
        {
            var (last, read) = await FillAsync(connection, transaction, done, cancel);
            if (read == 0) break;
            done = last;
        }

        await ExecuteAsync(connection, transaction, """
            -- Whoever may read or write the old ones may the new ones.
            do $$
            declare g record;
            begin
                for g in select grantee, privilege_type, table_name from information_schema.role_table_grants
                    where table_schema = 'trace' and table_name in ('about', 'link') and grantee not in (current_user, 'PUBLIC')
                loop
                    execute format('grant %s on trace.%I to %I', g.privilege_type, g.table_name || '_new', g.grantee);
                end loop;
            end $$;
            drop table trace.about; alter table trace.about_new rename to about;
            drop table trace.link; alter table trace.link_new rename to link;
            """, cancel);
        await transaction.CommitAsync(cancel);
    }

    private static async Task<(long Last, int Read)> FillAsync(NpgsqlConnection connection, NpgsqlTransaction? transaction, long after, CancellationToken cancel)
    {
        var records = new List<Record>();
        await using (var read = new NpgsqlCommand($"select position, bytes from trace.record where position > $1 order by position limit {Page}", connection, transaction)
        { Parameters = { new() { Value = after } } })
        {
            await using var reader = await read.ExecuteReaderAsync(cancel);
            while (await reader.ReadAsync(cancel)) records.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        }

        if (records.Count == 0) return (after, 0);
        var rows = records.SelectMany(r => r.Links().Select(l => (Link: l, r.Position))).ToList();
        var abouts = rows.Where(r => r.Link.Kind == LinkKind.About).ToList();
        var links = rows.Where(r => r.Link.Kind != LinkKind.About).ToList();
        await using var batch = new NpgsqlBatch(connection, transaction)
        {
            BatchCommands =
            {
                new("insert into trace.about_new (subject, position) select * from unnest($1, $2) on conflict do nothing")
                {
                    Parameters = { new() { Value = abouts.ConvertAll(r => r.Link.From.Key) }, new() { Value = abouts.ConvertAll(r => r.Position) } },
                },
                new("insert into trace.link_new (from_subject, kind, to_subject, position, possible) select * from unnest($1, $2, $3, $4, $5) on conflict (from_subject, kind, to_subject, possible) do nothing")
                {
                    Parameters =
                    {
                        new() { Value = links.ConvertAll(r => r.Link.From.Key) }, new() { Value = links.ConvertAll(r => (short)r.Link.Kind) },
                        new() { Value = links.ConvertAll(r => r.Link.To.Key) }, new() { Value = links.ConvertAll(r => r.Position) }, new() { Value = links.ConvertAll(r => r.Link.Possible) },
                    },
                },
            },
        };
        await batch.ExecuteNonQueryAsync(cancel);
        return (records[^1].Position, records.Count);
    }

    private static async Task ExecuteAsync(NpgsqlConnection connection, NpgsqlTransaction? transaction, string sql, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand(sql, connection, transaction);
        await command.ExecuteNonQueryAsync(cancel);
    }
}
