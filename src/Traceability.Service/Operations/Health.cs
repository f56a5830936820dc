using Microsoft.Extensions.Diagnostics.HealthChecks;
using Npgsql;
using Traceability.Core.Events;
using Traceability.Service.Intake;

namespace Traceability.Service.Operations;

/// <summary>The database answers, and confirms durably.</summary>
public sealed class DatabaseHealth(NpgsqlDataSource source, ILogger<DatabaseHealth> log) : IHealthCheck
{
    public async Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        try
        {
            var off = await Startup.CheckDurabilityAsync(source, log, cancellationToken);
            return off.Count == 0 ? HealthCheckResult.Healthy() : HealthCheckResult.Degraded("off: " + string.Join(", ", off));
        }
        catch (Exception e)
        {
            return HealthCheckResult.Unhealthy(Connections.WhyNoDatabase(e) ?? "the database does not answer", e);
        }
    }
}

/// <summary>The broker answers and the facts queue is there.</summary>
public sealed class BusHealth(BusTopology topology) : IHealthCheck
{
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default) =>
        Task.FromResult(topology.Blocked is { } why ? HealthCheckResult.Unhealthy($"the message broker takes nothing: {why}")
            : !topology.Ready ? HealthCheckResult.Unhealthy(topology.WhyNot ?? "the message broker does not answer")
            : topology.Apart > 0 ? HealthCheckResult.Degraded($"{topology.Apart} messages were set apart by the broker; move them back to the facts queue")
            : HealthCheckResult.Healthy($"{topology.Depth} messages wait"));
}

/// <summary>The signer does not refuse the log, and nobody lays manifests before it that nobody issued.</summary>
public sealed class SignerHealth(Log.LogSigner signer, Log.OutsideMemory outside, Packets.PacketStore packets, TimeProvider clock) : IHealthCheck
{
    /// <summary>How long a refused manifest stays in readiness; the doctor names it for ever. Our own choice.</summary>
    private static readonly TimeSpan Remembered = TimeSpan.FromHours(24);

    public async Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        if (signer.Refusal is { } why) return HealthCheckResult.Unhealthy(why);
        try
        {
            var refused = await packets.RefusedAsync(clock.GetUtcNow() - Remembered, cancellationToken);
            if (refused.Count > 0) return HealthCheckResult.Degraded("manifests were laid before the signer that it does not sign: " + string.Join("; ", refused.Take(3).Select(r => $"{r.Packet}: {r.Why}")));
            return outside.Unasked.Count == 0 ? HealthCheckResult.Healthy()
                : HealthCheckResult.Degraded($"{string.Join(" and ", outside.Unasked)} could not be asked what it saw of the log: until it answers, a backup of database and signer together would not be noticed");
        }
        catch (Exception e)
        {
            return HealthCheckResult.Unhealthy("what the signer refused cannot be read", e);
        }
    }
}

/// <summary>No administrator was recovered and no roles were confirmed on the machine lately: whoever did not order it should see it.</summary>
public sealed class RecoveryHealth(NpgsqlDataSource source, TimeProvider clock, Core.Records.PlantTime time) : IHealthCheck
{
    /// <summary>How long a recovery stays in readiness; the log holds it for ever. Our own choice.</summary>
    private static readonly TimeSpan Remembered = TimeSpan.FromDays(7);

    public async Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        try
        {
            await using var command = source.CreateCommand("select r.recorded_at from trace.about a join trace.record r on r.position = a.position where a.subject = $1 and r.recorded_at >= $2 order by r.position desc limit 1");
            command.Parameters.Add(new() { Value = AdministratorRecovered.Recoveries.Key });
            command.Parameters.Add(new() { Value = (clock.GetUtcNow() - Remembered).UtcDateTime });
            return await command.ExecuteScalarAsync(cancellationToken) is DateTime at
                ? HealthCheckResult.Degraded($"an administrator was recovered, or roles were confirmed, on the machine at {time.Local(new DateTimeOffset(at, TimeSpan.Zero)):yyyy-MM-dd HH:mm}; the integrity page says who and why")
                : HealthCheckResult.Healthy();
        }
        catch (Exception e)
        {
            return HealthCheckResult.Unhealthy("recoveries of administrators cannot be read", e);
        }
    }
}

/// <summary>How far the subscriptions are behind the newest record.</summary>
public sealed class LagHealth(DaemonWatch watch) : IHealthCheck
{
    /// <summary>Records behind from which a lag is a fault of the worker rather than a burst. Our own choice.</summary>
    public const long Behind = 50_000;

    public async Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        try
        {
            var state = await watch.ReadAsync(cancellationToken);
            var worst = state.Shards.Count == 0 ? state.Newest : state.Newest - state.Shards.Min(s => s.Value);
            return worst > Behind ? HealthCheckResult.Unhealthy($"{worst} positions behind") : HealthCheckResult.Healthy($"{worst} positions behind");
        }
        catch (Exception e)
        {
            return HealthCheckResult.Unhealthy("the progress of the subscriptions cannot be read", e);
        }
    }
}

/// <summary>
/// Whether the daemon still moves: the lag check alone reads healthy when nothing new is seen because the agent that looks
/// for new events has died.
/// </summary>
public sealed class HighWaterHealth(DaemonWatch watch, TimeProvider clock) : IHealthCheck
{
    /// <summary>How long records may wait without any progress. Our own choice.</summary>
    private static readonly TimeSpan Longest = TimeSpan.FromSeconds(30);

    private (long Mark, DateTimeOffset Since)? _last;

    public async Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        try
        {
            var state = await watch.ReadAsync(cancellationToken);
            var now = clock.GetUtcNow();
            if (_last is not { } last || last.Mark != state.HighWater || state.HighWater >= state.Newest) _last = (state.HighWater, now);
            return now - _last.Value.Since > Longest
                ? HealthCheckResult.Unhealthy($"the high-water mark stands at {state.HighWater}, the newest record is {state.Newest}")
                : HealthCheckResult.Healthy($"high-water mark {state.HighWater}");
        }
        catch (Exception e)
        {
            return HealthCheckResult.Unhealthy("the high-water mark cannot be read", e);
        }
    }
}

public sealed record DaemonState(long Newest, long HighWater, IReadOnlyDictionary<string, long> Shards, long StaleUnits, long Unsealed, long Quarantined, long Parked);

/// <summary>Reads how far the daemon, the assembler and the signer are.</summary>
public sealed class DaemonWatch(NpgsqlDataSource source)
{
    public async Task<DaemonState> ReadAsync(CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        var shards = new Dictionary<string, long>(StringComparer.Ordinal);
        var highWater = 0L;
        await using (var command = new NpgsqlCommand("select name, last_seq_id from marten.mt_event_progression", connection))
        {
            await using var reader = await command.ExecuteReaderAsync(cancel);
            while (await reader.ReadAsync(cancel))
            {
                if (reader.GetString(0).StartsWith("HighWaterMark", StringComparison.Ordinal)) highWater = reader.GetInt64(1);
                else shards[reader.GetString(0)] = reader.GetInt64(1);
            }
        }

        await using var counts = new NpgsqlCommand("""
            select (select coalesce(max(position), 0) from trace.record), (select count(*) from trace.stale_unit),
                   (select coalesce(max(index) + 1, 0) from trace.log_leaf) - (select coalesce(max(size), 0) from trace.checkpoint),
                   (select count(*) from trace.quarantine where cleared_at is null and waits_for = 'administrator'), (select count(*) from trace.parked where redriven_at is null)
            """, connection);
        await using var row = await counts.ExecuteReaderAsync(cancel);
        await row.ReadAsync(cancel);
        return new(row.GetInt64(0), highWater, shards, row.GetInt64(1), row.GetInt64(2), row.GetInt64(3), row.GetInt64(4));
    }
}

/// <summary>Publishes queue depth, daemon lag, stale units and unsealed records as metrics.</summary>
public sealed class Gauges : BackgroundService
{
    private readonly DaemonWatch _watch;
    private DaemonState? _last;

    public Gauges(DaemonWatch watch, IServiceProvider services)
    {
        _watch = watch;
        var topology = services.GetService<BusTopology>();
        Telemetry.Meter.CreateObservableGauge("trace.queue.depth", () => topology?.Depth ?? 0, "{message}", "Messages waiting in the facts queue");
        Telemetry.Meter.CreateObservableGauge("trace.daemon.lag", () => _last is { Shards.Count: > 0 } s ? s.Newest - s.Shards.Min(x => x.Value) : 0, "{position}", "Positions that the slowest subscription is behind");
        Telemetry.Meter.CreateObservableGauge("trace.units.stale", () => _last?.StaleUnits ?? 0, "{unit}", "Units waiting to be assembled");
        Telemetry.Meter.CreateObservableGauge("trace.records.unsealed", () => _last?.Unsealed ?? 0, "{record}", "Leaves that no checkpoint covers yet");
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        using var timer = new PeriodicTimer(TimeSpan.FromSeconds(2));
        while (await timer.WaitForNextTickAsync(stoppingToken))
        {
            try
            {
                _last = await _watch.ReadAsync(stoppingToken);
            }
            catch (Exception) when (!stoppingToken.IsCancellationRequested)
            {
                // The readiness checks report it; the gauges keep their last value.
            }
        }
    }
}
