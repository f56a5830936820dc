using System.Diagnostics;
using Marten;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Operations;

namespace Traceability.Service.Assembling;

/// <summary>Drains the stale units by priority, one short transaction each: load, assemble, judge, write the row.</summary>
public sealed partial class Assembler(IDocumentStore store, NpgsqlDataSource source, TimeProvider clock, ILogger<Assembler> log) : BackgroundService
{
    private static readonly TimeSpan Idle = TimeSpan.FromMilliseconds(500);

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        using var wake = new Wake(source, "trace_stale");
        long? expiryChecked = null;
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                // Measured by elapsed time: the wall clock can be set back, by a person or by a scenario.
                if (expiryChecked is not { } last || clock.GetElapsedTime(last) > TimeSpan.FromSeconds(5))
                {
                    await MarkExpiredAsync(stoppingToken);
                    expiryChecked = clock.GetTimestamp();
                }

                while (await AssembleNextAsync(stoppingToken) is not null)
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

    /// <summary>Assembles the most urgent stale unit; null when none is stale.</summary>
    public async Task<string?> AssembleNextAsync(CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using var transaction = await connection.BeginTransactionAsync(cancel);
        string? key;
        await using (var pick = new NpgsqlCommand("select unit from trace.stale_unit order by priority, marked_at, unit limit 1 for update skip locked", connection, transaction))
        {
            key = (string?)await pick.ExecuteScalarAsync(cancel);
        }

        if (key is null) return null;
        await transaction.SaveAsync("picked", cancel);
        try
        {
            await WriteRowAsync(connection, transaction, Subject.Parse(key), cancel);
            await using var done = new NpgsqlCommand("delete from trace.stale_unit where unit = $1", connection, transaction) { Parameters = { new() { Value = key } } };
            await done.ExecuteNonQueryAsync(cancel);
        }
        catch (Exception e) when (!Recording.Recorder.IsAway(e))
        {
            // A unit that cannot be judged goes to the back and stays stale, so that it is seen and blocks no other.
            LogUnit(log, e, key);
            await transaction.RollbackAsync("picked", cancel);
            await using var back = new NpgsqlCommand("update trace.stale_unit set priority = 9, marked_at = clock_timestamp() + interval '10 seconds' where unit = $1", connection, transaction)
            { Parameters = { new() { Value = key } } };
            await back.ExecuteNonQueryAsync(cancel);
            await transaction.CommitAsync(cancel);
            return null;
        }

        await transaction.CommitAsync(cancel);
        Telemetry.Assembled.Add(1);
        return key;
    }

    private async Task WriteRowAsync(NpgsqlConnection connection, NpgsqlTransaction transaction, Subject unit, CancellationToken cancel)
    {
        var dossier = await DossierStore.LoadAsync(connection, unit, null, cancel);
        using var span = Telemetry.Source.StartActivity("assemble", ActivityKind.Internal, await ParentAsync(connection, transaction, dossier, cancel));
        span?.SetTag("trace.unit", unit.Id);
        var file = Assemble.Unit(dossier);
        var at = clock.GetUtcNow();
        var judgement = Judge.Unit(file, at);
        await using (var keep = new NpgsqlCommand("insert into trace.judgement (hash, bytes) values ($1, $2) on conflict do nothing", connection, transaction)
        { Parameters = { new() { Value = judgement.Hash }, new() { Value = judgement.Bytes } } })
        {
            await keep.ExecuteNonQueryAsync(cancel);
        }

        await using var session = store.LightweightSession(Marten.Services.SessionOptions.ForTransaction(transaction));
        var row = UnitRow.Of(file, judgement, dossier.Position, at);
        session.Store(row);
        await session.SaveChangesAsync(cancel);
        await ReachRows.WriteAsync(connection, transaction, row, file, UnitReach.Of(dossier, file), cancel);
        await using var tell = new NpgsqlCommand("select pg_notify('trace_units', $1)", connection, transaction) { Parameters = { new() { Value = unit.Id } } };
        await tell.ExecuteNonQueryAsync(cancel);
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
