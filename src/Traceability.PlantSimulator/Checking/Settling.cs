using Npgsql;

namespace Traceability.PlantSimulator.Checking;

/// <summary>How far the store is: everything recorded has its leaf, is sealed, and no unit is stale.</summary>
public sealed record Progress(long Records, long Newest, long Leaves, long Sealed, long Stale, long Marked, long Weighing = 0)
{
    public bool IsSettled => Leaves == Records && Sealed == Leaves && Stale == 0 && Marked >= Newest && Weighing == 0;

    public override string ToString() => $"{Records} records, {Leaves} leaves, {Sealed} sealed, {Stale} units stale, marked up to {Marked} of {Newest}, {Weighing} to be weighed";
}

public static class Settling
{
    /// <summary>Rows of trace.quarantine that the worker weighs next: the others wait for a person, or for a record that has not come.</summary>
    public const string Weighed = "cleared_at is null and (waits_for = 'weighing' or (waits_for = 'record' and exists (select from trace.record r where r.id = (convert_from(bytes, 'UTF8')::jsonb #>> '{data,record}')::uuid)))";

    private const string Sql = $"""
        select (select count(*) from trace.record), (select coalesce(max(position), 0) from trace.record), (select count(*) from trace.log_leaf),
               (select coalesce(max(size), 0) from trace.checkpoint), (select count(*) from trace.stale_unit),
               (select coalesce(max(last_seq_id), 0) from marten.mt_event_progression where name like 'MarkStale%'),
               (select count(*) from trace.quarantine where {Weighed})
        """;

    public static async Task<Progress> ReadAsync(string database, CancellationToken cancel)
    {
        await using var connection = new NpgsqlConnection(database);
        await connection.OpenAsync(cancel);
        await using var command = new NpgsqlCommand(Sql, connection);
        await using var reader = await command.ExecuteReaderAsync(cancel);
        await reader.ReadAsync(cancel);
        return new(reader.GetInt64(0), reader.GetInt64(1), reader.GetInt64(2), reader.GetInt64(3), reader.GetInt64(4), reader.GetInt64(5), reader.GetInt64(6));
    }

    /// <summary>Waits until recorded = assembled = sealed.</summary>
    /// <exception cref="TimeoutException">It did not come to that; the message says how far it came.</exception>
    public static async Task<Progress> WaitAsync(string database, TimeSpan patience, CancellationToken cancel)
    {
        var until = TimeProvider.System.GetTimestamp();
        while (true)
        {
            string state;
            try
            {
                var progress = await ReadAsync(database, cancel);
                if (progress.IsSettled) return progress;
                state = progress.ToString();
            }
            catch (NpgsqlException e)
            {
                state = e.Message;
            }

            if (TimeProvider.System.GetElapsedTime(until) > patience) throw new TimeoutException($"not settled after {patience.TotalSeconds:0} s: {state}");
            await Task.Delay(TimeSpan.FromMilliseconds(200), cancel);
        }
    }
}
