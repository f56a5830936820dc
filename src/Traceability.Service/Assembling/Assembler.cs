using System.Diagnostics;
using Marten;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Operations;

namespace Traceability.Service.Assembling;

/// <summary>
/// Drains the stale units by priority, a few in each short transaction: load, assemble, judge, write the rows. Two hands
/// work: one takes whatever is most urgent; the other never takes a unit that only a hub reached, so that a unit somebody
/// waits for is not behind twenty thousand others.
/// </summary>
public sealed partial class Assembler(IDocumentStore store, NpgsqlDataSource source, TimeProvider clock, PlantTime time, ILogger<Assembler> log) : BackgroundService
{
    /// <summary>Units in one transaction. Our own choice: few enough that a mark on one of them waits a fraction of a second.</summary>
    private const int Handful = 12;

    private static readonly TimeSpan Idle = TimeSpan.FromMilliseconds(500);

    protected override Task ExecuteAsync(CancellationToken stoppingToken) => Task.WhenAll(DrainAsync(hubs: true, stoppingToken), DrainAsync(hubs: false, stoppingToken));

    private async Task DrainAsync(bool hubs, CancellationToken stoppingToken)
    {
        using var wake = new Wake(source, "trace_stale");
        long? expiryChecked = null;
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                // Measured by elapsed time: the wall clock can be set back, by a person or by a scenario.
                if (!hubs && (expiryChecked is not { } last || clock.GetElapsedTime(last) > TimeSpan.FromSeconds(5)))
                {
                    await MarkExpiredAsync(stoppingToken);
                    expiryChecked = clock.GetTimestamp();
                }

                while (await AssembleNextAsync(Handful, hubs, stoppingToken))
                {
                }

                await wake.WaitAsync(Idle, stoppingToken);
            }
            catch (Exception e) when (!stoppingToken.IsCancellationRequested)
            {
                LogFailed(log, e);
                await Task.Delay(Idle, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    /// <summary>Assembles the most urgent stale units, at most so many; false when there is none, or none that can be assembled.</summary>
    /// <param name="hubs">Whether units that only a hub reached are taken too.</param>
    public async Task<bool> AssembleNextAsync(int most, bool hubs, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using var transaction = await connection.BeginTransactionAsync(cancel);
        var keys = new List<string>(most);
        await using (var pick = new NpgsqlCommand(
            $"select unit from trace.stale_unit{(hubs ? "" : $" where priority < {MarkStale.Hub}")} order by priority, marked_at, unit limit {most} for update skip locked", connection, transaction))
        await using (var reader = await pick.ExecuteReaderAsync(cancel))
        {
            while (await reader.ReadAsync(cancel)) keys.Add(reader.GetString(0));
        }

        if (keys.Count == 0) return false;
        try
        {
            await WriteAsync(connection, transaction, keys, cancel);
            await transaction.CommitAsync(cancel);
            Telemetry.Assembled.Add(keys.Count);
            return true;
        }
        catch (Exception e) when (!Recording.Recorder.IsAway(e))
        {
            await transaction.RollbackAsync(cancel);
            if (keys.Count == 1)
            {
                // A unit that cannot be judged goes to the back and stays stale, so that it is seen and blocks no other.
                LogUnit(log, e, keys[0]);
                await using var back = source.CreateCommand($"update trace.stale_unit set priority = {Last}, marked_at = clock_timestamp() + interval '10 seconds' where unit = $1");
                back.Parameters.Add(new() { Value = keys[0] });
                await back.ExecuteNonQueryAsync(cancel);
                return false;
            }
        }

        // One of them spoiled the transaction; alone each shows whether it was the one.
        var any = false;
        for (var i = 0; i < keys.Count; i++) any |= await AssembleNextAsync(1, hubs, cancel);
        return any;
    }

    private const short Last = 9;

    private async Task WriteAsync(NpgsqlConnection connection, NpgsqlTransaction transaction, IReadOnlyList<string> keys, CancellationToken cancel)
    {
        var made = new List<(Judgement Judgement, UnitRow Row, UnitFile File, IReadOnlyList<ReachedSubject> Reach)>(keys.Count);
        foreach (var key in keys)
        {
            var dossier = await DossierStore.LoadAsync(connection, time, Subject.Parse(key), null, cancel);
            using var span = Telemetry.Source.HasListeners() ? Telemetry.Source.StartActivity("assemble", ActivityKind.Internal, await ParentAsync(connection, transaction, dossier, cancel)) : null;
            span?.SetTag("trace.unit", dossier.Unit.Id);
            var file = Assemble.Unit(dossier);
            var at = clock.GetUtcNow();
            var judgement = Judge.Unit(file, at);
            made.Add((judgement, UnitRow.Of(file, judgement, dossier.Position, at), file, UnitReach.Of(dossier, file)));
        }

        await using (var session = store.LightweightSession(Marten.Services.SessionOptions.ForTransaction(transaction)))
        {
            session.Store(made.Select(m => m.Row));
            await session.SaveChangesAsync(cancel);
        }

        await ReachRows.WriteAsync(connection, transaction, [.. made.Select(m => (m.Row, m.File, m.Reach))], cancel);
        await using var rest = new NpgsqlBatch(connection, transaction)
        {
            BatchCommands =
            {
                new("insert into trace.judgement (hash, bytes) select * from unnest($1, $2) on conflict do nothing")
                { Parameters = { new() { Value = made.Select(m => m.Judgement.Hash).ToArray() }, new() { Value = made.Select(m => m.Judgement.Bytes).ToArray() } } },
                new("delete from trace.stale_unit where unit = any($1)") { Parameters = { new() { Value = keys.ToArray() } } },
                new("select pg_notify('trace_units', u) from unnest($1) u") { Parameters = { new() { Value = made.Select(m => m.Row.Id).ToArray() } } },
            },
        };
        await rest.ExecuteNonQueryAsync(cancel);
    }

    // The row is written on behalf of the newest record in it; its trace goes on here.
    private static async Task<ActivityContext> ParentAsync(NpgsqlConnection connection, NpgsqlTransaction transaction, Dossier dossier, CancellationToken cancel)
    {
        if (dossier.Records.Count == 0) return default;
        await using var command = new NpgsqlCommand("select trace_parent from trace.record where position = $1", connection, transaction)
        { Parameters = { new() { Value = dossier.Records[^1].Position } } };
        return await command.ExecuteScalarAsync(cancel) is string parent && ActivityContext.TryParse(parent, null, isRemote: true, out var context) ? context : default;
    }

    // Time alone changes a judgement when its validity runs out.
    private async Task MarkExpiredAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand("""
            insert into trace.stale_unit (unit, since_position, priority)
            select 'unit:' || d.id, (d.data ->> 'position')::bigint, (d.data ->> 'priority')::smallint from marten.mt_doc_unitrow d
            where (d.data ->> 'validUntil') is not null and (d.data ->> 'validUntil')::timestamptz <= $1
            on conflict (unit) do nothing
            """);
        command.Parameters.Add(new() { Value = clock.GetUtcNow().UtcDateTime });
        await command.ExecuteNonQueryAsync(cancel);
    }

    [LoggerMessage(LogLevel.Warning, "Assembling paused: the database did not answer")]
    private static partial void LogFailed(ILogger logger, Exception e);

    [LoggerMessage(LogLevel.Error, "Unit {Unit} could not be assembled; it stays stale and is tried again")]
    private static partial void LogUnit(ILogger logger, Exception e, string unit);
}
