using System.Collections.Concurrent;
using System.Security.Claims;
using System.Security.Cryptography;
using System.Globalization;
using Npgsql;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>
/// Sessions that were ended before their time. A session is a sealed cookie, so that intake and pages need no table to know somebody; whoever signs out
/// ends it for every copy of that cookie, in every process, over restarts. While the database is away it is ended in this process at once and in the
/// others as soon as it answers.
/// </summary>
public sealed partial class Sessions(NpgsqlDataSource source, TimeProvider clock, ILogger<Sessions> log, ScenarioClock? scenario = null) : BackgroundService
{
    /// <summary>A session lasts no longer, however busy it is; and it ends when nothing was asked for so long. NIST SP 800-63B, 4.2.3, asks for the first; the second is our own choice: an engineer's page stays open over a meeting.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromHours(12), Idle = TimeSpan.FromHours(2);

    private const string Channel = "trace_sessions", IdClaim = "session", SinceClaim = "since";

    private readonly ConcurrentDictionary<string, DateTimeOffset> _ended = new(StringComparer.Ordinal);
    private readonly ConcurrentQueue<string> _toTell = [];

    // A demonstration's clock leaps over weeks; the sessions in it do not.
    private DateTimeOffset Moment => clock.GetUtcNow() - (scenario?.Offset ?? TimeSpan.Zero);

    /// <summary>What a new session carries beside its person: an id of its own and when it began.</summary>
    public IEnumerable<Claim> Begin() =>
        [new(IdClaim, Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(16))), new(SinceClaim, Moment.ToUnixTimeSeconds().ToString(CultureInfo.InvariantCulture))];

    /// <summary>The same of a running session.</summary>
    public static IEnumerable<Claim> Of(ClaimsPrincipal user) => user.Claims.Where(c => c.Type is IdClaim or SinceClaim);

    /// <summary>Whether a session still runs: not ended, and not older than <see cref="Longest"/>.</summary>
    public bool Runs(ClaimsPrincipal? user) =>
        user?.FindFirstValue(IdClaim) is { } id && !_ended.ContainsKey(id)
        && long.TryParse(user.FindFirstValue(SinceClaim), NumberStyles.None, CultureInfo.InvariantCulture, out var since) && Moment.ToUnixTimeSeconds() - since <= Longest.TotalSeconds;

    /// <summary>Ends a session for every copy of its cookie.</summary>
    public async Task EndAsync(ClaimsPrincipal? user, CancellationToken cancel)
    {
        if (user?.FindFirstValue(IdClaim) is not { } id || !_ended.TryAdd(id, Moment)) return;
        _toTell.Enqueue(id);
        try
        {
            await TellAsync(cancel);
        }
        catch (Exception e) when (Recording.Recorder.IsAway(e))
        {
            LogLater(log, e.Message);
        }
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        using var wake = new Wake(source, Channel);
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await ReadAsync(stoppingToken);
                await TellAsync(stoppingToken);
                await wake.WaitAsync(TimeSpan.FromSeconds(10), stoppingToken);
            }
            catch (Exception e) when (!stoppingToken.IsCancellationRequested)
            {
                LogLater(log, e.Message);
                await Task.Delay(TimeSpan.FromSeconds(2), stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
            catch (OperationCanceledException)
            {
                return;
            }
        }
    }

    private async Task ReadAsync(CancellationToken cancel)
    {
        var gone = Moment - Longest;
        await using (var sweep = source.CreateCommand("delete from trace.session_ended where ended_at < $1"))
        {
            sweep.Parameters.Add(new() { Value = gone.UtcDateTime });
            await sweep.ExecuteNonQueryAsync(cancel);
        }

        foreach (var (id, at) in _ended.Where(e => e.Value < gone)) _ended.TryRemove(id, out _);
        await using var command = source.CreateCommand("select id, ended_at from trace.session_ended");
        await using var row = await command.ExecuteReaderAsync(cancel);
        while (await row.ReadAsync(cancel)) _ended.TryAdd(row.GetString(0), row.GetFieldValue<DateTimeOffset>(1));
    }

    private async Task TellAsync(CancellationToken cancel)
    {
        while (_toTell.TryPeek(out var id))
        {
            await using var command = source.CreateCommand("insert into trace.session_ended (id, ended_at) values ($1, $2) on conflict do nothing");
            foreach (var value in new object[] { id, Moment.UtcDateTime }) command.Parameters.Add(new() { Value = value });
            await command.ExecuteNonQueryAsync(cancel);
            _toTell.TryDequeue(out _);
            await using var notify = source.CreateCommand("notify " + Channel);
            await notify.ExecuteNonQueryAsync(cancel);
        }
    }

    [LoggerMessage(LogLevel.Warning, "Ended sessions are told to the other processes later: {Why}")]
    private static partial void LogLater(ILogger logger, string why);
}
