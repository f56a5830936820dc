using Npgsql;

namespace Traceability.Service.Operations;

/// <summary>
/// A clock that can be set, for demonstrations only. Every record made under it says so in its assurance.
/// It runs on at normal speed from where it was set.
/// </summary>
public sealed class ScenarioClock : TimeProvider
{
    private long _offsetTicks;

    /// <summary>How far it is from the true time.</summary>
    public TimeSpan Offset
    {
        get => TimeSpan.FromTicks(Interlocked.Read(ref _offsetTicks));
        set => Interlocked.Exchange(ref _offsetTicks, value.Ticks);
    }

    public override DateTimeOffset GetUtcNow() => System.GetUtcNow() + Offset;

    public void Set(DateTimeOffset now) => Offset = now - System.GetUtcNow();
}

/// <summary>Keeps the scenario clocks of all processes of one installation together, by a row in the database.</summary>
public sealed class SharedScenarioClock(NpgsqlDataSource source, ScenarioClock clock) : BackgroundService
{
    private const string Channel = "trace_scenario";

    public async Task SetAsync(DateTimeOffset now, CancellationToken cancel)
    {
        clock.Set(now);
        await using var command = source.CreateCommand("""
            insert into trace.scenario_clock (offset_ticks) values ($1) on conflict (one) do update set offset_ticks = excluded.offset_ticks
            """);
        command.Parameters.Add(new() { Value = clock.Offset.Ticks });
        await command.ExecuteNonQueryAsync(cancel);
        await using var notify = source.CreateCommand($"select pg_notify('{Channel}', '')");
        await notify.ExecuteNonQueryAsync(cancel);
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        using var wake = new Wake(source, Channel);
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await using (var command = source.CreateCommand("select offset_ticks from trace.scenario_clock"))
                {
                    if (await command.ExecuteScalarAsync(stoppingToken) is long ticks) clock.Offset = TimeSpan.FromTicks(ticks);
                }

                await wake.WaitAsync(TimeSpan.FromSeconds(1), stoppingToken);
            }
            catch (Exception e) when (Recording.Recorder.IsAway(e) && !stoppingToken.IsCancellationRequested)
            {
                // The clock runs on from where it was until the database is back.
                await Task.Delay(TimeSpan.FromSeconds(1), stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }
}
