using System.Text.Json;
using Npgsql;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Recording;
using Traceability.Service.Operations;

namespace Traceability.Service.Decisions;

/// <summary>
/// Part of the worker: judges what a restatement that came from a station would turn. What turns nothing is recorded at once; what opens something waits for a
/// second person, and the old verdict stands until then. A restatement whose record has not come yet waits for it.
/// </summary>
public sealed partial class Weigher(Rehearsal rehearsal, NpgsqlDataSource source, TimeProvider clock, ILogger<Weigher> log) : BackgroundService
{
    private const int Most = 50;

    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(150);

    /// <inheritdoc/>
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await PassAsync(stoppingToken);
            }
            catch (Exception e) when (Recorder.IsAway(e) || e is NpgsqlException)
            {
                // Everything stays where it is; the next pass takes it up.
                if (!stoppingToken.IsCancellationRequested) LogWaits(log, e.Message);
            }

            await Task.Delay(Pause, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    private async Task PassAsync(CancellationToken cancel)
    {
        IReadOnlyList<SetApart> waiting;
        await using (var connection = await source.OpenConnectionAsync(cancel))
        {
            // Those whose record never comes do not stand in the way of the others.
            waiting =
            [
                .. await SetApart.ReadAsync(connection, $"select {SetApart.Columns} from trace.quarantine where cleared_at is null and waits_for = 'weighing' order by received_at, id limit {Most}", cancel),
                .. await SetApart.ReadAsync(connection, $"select {SetApart.Columns} from trace.quarantine where cleared_at is null and waits_for = 'record' and exists (select from trace.record r where r.id = (convert_from(quarantine.bytes, 'UTF8')::jsonb #>> '{{data,record}}')::uuid) order by received_at, id limit {Most}", cancel),
            ];
        }

        foreach (var entry in waiting)
        {
            try
            {
                await WeighAsync(entry, cancel);
            }
            catch (Exception e) when (!Recorder.IsAway(e) && !cancel.IsCancellationRequested)
            {
                await WaitForAsync(entry, WaitsFor.Administrator, "It could not be weighed: " + e.Message, cancel);
            }
        }
    }

    private async Task WeighAsync(SetApart entry, CancellationToken cancel)
    {
        var sent = CloudEvent.ReadCanonical(entry.Bytes);
        var fact = FactCatalog.Read(FactCatalog.All[sent.Type], sent.Data);
        Record? earlier = null;
        await using (var connection = await source.OpenConnectionAsync(cancel))
        {
            if (fact switch { RecordCorrected c => c.Record, RecordWithdrawn w => w.Record, _ => (Guid?)null } is { } named)
            {
                earlier = await Restatement.FindAsync(connection, named, cancel);
                if (earlier is null)
                {
                    await WaitForAsync(entry, WaitsFor.Record, Restating.NotHereYet, cancel);
                    return;
                }
            }

            if (await AgencyWords.RefusalAsync(connection, entry, sent, cancel) is { } refused)
            {
                await WaitForAsync(entry, WaitsFor.Administrator, refused, cancel);
                return;
            }
        }

        if (await TurnsAsync(entry, sent, earlier, cancel) is { } why) await WaitForAsync(entry, WaitsFor.Second, why, cancel);
    }

    /// <summary>Records what turns nothing for the better, or says what it turns and records nothing.</summary>
    private async Task<string?> TurnsAsync(SetApart entry, CloudEvent sent, Record? earlier, CancellationToken cancel)
    {
        var weighed = await rehearsal.DecideAsync(async sitting =>
        {
            var slip = earlier is not null && await Restatement.IsSlipAsync(sitting, earlier, sent.Person, entry.ReceivedAt, cancel);
            await sitting.SettleAsync(sent, "service: it turns nothing for the better", cancel);
            var outcome = await sitting.AddAsync(entry.Received(), sent, cancel);
            var turned = slip || outcome.Position is null ? null : await Restatement.WeighAsync(sitting, earlier, cancel);
            if (turned is { NeedsSecond: true }) return new Turning(turned.Why);
            return new Turning(null);
        }, t => t.Why is null, "service", "service", cancel);
        // Where records that bear on it came each time, it stays where it is, and the next pass takes it up.
        return weighed?.Why;
    }

    /// <param name="Why">What it turns, so that a second person has to approve it; null when it turns nothing.</param>
    private sealed record Turning(string? Why);

    private async Task WaitForAsync(SetApart entry, WaitsFor waits, string why, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("update trace.quarantine set waits_for = $3, reason = $4 where id = $1 and content_hash = $2 and cleared_at is null");
        command.Parameters.Add(new() { Value = entry.Id });
        command.Parameters.Add(new() { Value = entry.ContentHash });
        command.Parameters.Add(new() { Value = SetApart.Name(waits) });
        command.Parameters.Add(new() { Value = why });
        await command.ExecuteNonQueryAsync(cancel);
    }

    [LoggerMessage(LogLevel.Warning, "Weighing waits: {Reason}")]
    private static partial void LogWaits(ILogger logger, string reason);
}
