using System.Collections.Concurrent;
using System.Security.Claims;
using System.Security.Cryptography;
using System.Globalization;
using Npgsql;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>A session that runs, for its person to look at.</summary>
/// <param name="Browser">What the browser says it is, in words.</param>
/// <param name="SeenAt">When it was last used, to the minute.</param>
public sealed record RunningSession(string Id, string Browser, DateTimeOffset BeganAt, DateTimeOffset SeenAt);

/// <summary>
/// Browser sessions: those that run, noted so that their person sees them, and those that were ended before their time. A session is a sealed cookie, so that intake and pages need no table to know somebody; whoever signs out
/// ends it for every copy of that cookie, in every process, over restarts. While the database is away it is ended in this process at once and in the
/// others as soon as it answers.
/// </summary>
public sealed partial class Sessions(NpgsqlDataSource source, TimeProvider clock, ILogger<Sessions> log, ScenarioClock? scenario = null) : BackgroundService
{
    /// <summary>A session lasts no longer, however busy it is; and it ends when nothing was asked for so long. NIST SP 800-63B, 4.2.3, asks for the first; the second is our own choice: an engineer's page stays open over a meeting.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromHours(12), Idle = TimeSpan.FromHours(2);

    /// <summary>Sessions of one person at once; where one more begins, the oldest ends. Our own choice: a desk, a tablet and a telephone are a few, and what was never signed out adds up over a day.</summary>
    public const int Most = 20;

    // How often it is written when a session was last used: what is shown is read to the minute. And how long a sign-in waits for its note.
    private static readonly TimeSpan s_seen = TimeSpan.FromMinutes(1), s_patience = TimeSpan.FromSeconds(1);

    private const string Channel = "trace_sessions", IdClaim = "session", SinceClaim = "since";

    private readonly ConcurrentDictionary<string, DateTimeOffset> _ended = new(StringComparer.Ordinal);
    private readonly ConcurrentQueue<string> _toTell = [];
    private readonly ConcurrentQueue<(string Id, string Person, string Stamp, string Browser, DateTimeOffset At)> _toNote = [];
    // One at a time takes from a queue: who took the first and wrote it takes away no other.
    private readonly SemaphoreSlim _telling = new(1, 1), _noting = new(1, 1);
    private readonly ConcurrentDictionary<string, DateTimeOffset> _seen = new(StringComparer.Ordinal);
    private DateTimeOffset _seenWritten;

    // A demonstration's clock leaps over weeks; the sessions in it do not.
    private DateTimeOffset Moment => clock.GetUtcNow() - (scenario?.Offset ?? TimeSpan.Zero);

    /// <summary>What a new session carries beside its person: an id of its own and when it began.</summary>
    public IEnumerable<Claim> Begin() =>
        [new(IdClaim, Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(16))), new(SinceClaim, Moment.ToUnixTimeSeconds().ToString(CultureInfo.InvariantCulture))];

    /// <summary>The same of a running session.</summary>
    public static IEnumerable<Claim> Of(ClaimsPrincipal user) => user.Claims.Where(c => c.Type is IdClaim or SinceClaim);

    /// <summary>The id of a session; null of whoever has none.</summary>
    public static string? IdOf(ClaimsPrincipal? user) => user?.FindFirstValue(IdClaim);

    /// <summary>Notes that a session began, for its person to see. While the database is away it is noted later.</summary>
    public async Task NoteAsync(ClaimsPrincipal user, Person person, string? userAgent, CancellationToken cancel)
    {
        _toNote.Enqueue((IdOf(user)!, person.Id, person.Stamp, BrowserWords.Of(userAgent), Moment));
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancel);
        limit.CancelAfter(s_patience);
        try
        {
            await WriteNotesAsync(limit.Token);
        }
        catch (Exception e) when (e is NpgsqlException || Recording.Recorder.IsAway(e))
        {
            // Nobody is kept out because the list of sessions cannot be written.
            LogLater(log, e.Message);
        }
    }

    /// <summary>Notes that a session was used.</summary>
    public void Seen(ClaimsPrincipal? user)
    {
        if (IdOf(user) is { } id) _seen[id] = Moment;
    }

    /// <summary>Sessions of a person that run, the newest first. What roles or secrets ended is not among them.</summary>
    public async Task<IReadOnlyList<RunningSession>> OfAsync(Person person, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("""
            select s.id, s.browser, s.began_at, s.seen_at from trace.session s
            where s.person = $1 and s.stamp = $2 and s.began_at >= $3 and s.seen_at >= $4 and not exists (select from trace.session_ended e where e.id = s.id)
            order by s.began_at desc, s.id
            """);
        foreach (var value in new object[] { person.Id, person.Stamp, (Moment - Longest).UtcDateTime, (Moment - Idle).UtcDateTime }) command.Parameters.Add(new() { Value = value });
        await using var row = await command.ExecuteReaderAsync(cancel);
        var found = new List<RunningSession>();
        while (await row.ReadAsync(cancel))
        {
            if (_ended.ContainsKey(row.GetString(0))) continue;
            var seen = row.GetFieldValue<DateTimeOffset>(3);
            found.Add(new(row.GetString(0), row.GetString(1), row.GetFieldValue<DateTimeOffset>(2), _seen.TryGetValue(row.GetString(0), out var here) && here > seen ? here : seen));
        }

        return found;
    }

    /// <summary>Whether a session still runs: not ended, and not older than <see cref="Longest"/>.</summary>
    public bool Runs(ClaimsPrincipal? user) =>
        user?.FindFirstValue(IdClaim) is { } id && !_ended.ContainsKey(id)
        && long.TryParse(user.FindFirstValue(SinceClaim), NumberStyles.None, CultureInfo.InvariantCulture, out var since) && Moment.ToUnixTimeSeconds() - since <= Longest.TotalSeconds;

    /// <summary>Ends a session for every copy of its cookie.</summary>
    public Task EndAsync(ClaimsPrincipal? user, CancellationToken cancel) => IdOf(user) is { } id ? EndAsync(id, cancel) : Task.CompletedTask;

    /// <inheritdoc cref="EndAsync(ClaimsPrincipal, CancellationToken)"/>
    public async Task EndAsync(string id, CancellationToken cancel)
    {
        if (!_ended.TryAdd(id, Moment)) return;
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
                await WriteNotesAsync(stoppingToken);
                await WriteSeenAsync(stoppingToken);
                await SweepNotesAsync(stoppingToken);
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

    private async Task SweepNotesAsync(CancellationToken cancel)
    {
        await using var over = source.CreateCommand("delete from trace.session where began_at < $1");
        over.Parameters.Add(new() { Value = (Moment - Longest).UtcDateTime });
        await over.ExecuteNonQueryAsync(cancel);
    }

    private async Task TellAsync(CancellationToken cancel)
    {
        await _telling.WaitAsync(cancel);
        try
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
        finally
        {
            _telling.Release();
        }
    }

    private async Task WriteNotesAsync(CancellationToken cancel)
    {
        await _noting.WaitAsync(cancel);
        try
        {
            while (_toNote.TryPeek(out var note))
            {
                await using (var command = source.CreateCommand("insert into trace.session (id, person, stamp, browser, began_at, seen_at) values ($1, $2, $3, $4, $5, $5) on conflict do nothing"))
                {
                    foreach (var value in new object[] { note.Id, note.Person, note.Stamp, note.Browser, note.At.UtcDateTime }) command.Parameters.Add(new() { Value = value });
                    await command.ExecuteNonQueryAsync(cancel);
                }

                _toNote.TryDequeue(out _);
                foreach (var id in await TooManyAsync(note.Person, note.Stamp, cancel)) await EndAsync(id, cancel);
            }
        }
        finally
        {
            _noting.Release();
        }
    }

    // The oldest of those that run. One that is idle too long, or of former secrets, has ended anyway and ends no other.
    private async Task<IReadOnlyList<string>> TooManyAsync(string person, string stamp, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("""
            select s.id from trace.session s where s.person = $1 and s.stamp = $2 and s.seen_at >= $3 and not exists (select from trace.session_ended e where e.id = s.id)
            order by s.began_at desc, s.id offset $4
            """);
        foreach (var value in new object[] { person, stamp, (Moment - Idle).UtcDateTime, Most }) command.Parameters.Add(new() { Value = value });
        await using var row = await command.ExecuteReaderAsync(cancel);
        var tooMany = new List<string>();
        while (await row.ReadAsync(cancel)) tooMany.Add(row.GetString(0));
        return tooMany;
    }

    private async Task WriteSeenAsync(CancellationToken cancel)
    {
        if (Moment - _seenWritten < s_seen) return;
        _seenWritten = Moment;
        var seen = _seen.ToArray();
        if (seen.Length == 0) return;
        await using (var command = source.CreateCommand("update trace.session s set seen_at = u.at from unnest($1::text[], $2::timestamptz[]) as u (id, at) where s.id = u.id and s.seen_at < u.at"))
        {
            command.Parameters.Add(new() { Value = seen.Select(s => s.Key).ToArray() });
            command.Parameters.Add(new() { Value = seen.Select(s => s.Value.UtcDateTime).ToArray() });
            await command.ExecuteNonQueryAsync(cancel);
        }

        // One that was used again meanwhile is written next time.
        foreach (var written in seen) _seen.TryRemove(written);
    }

    [LoggerMessage(LogLevel.Warning, "Sessions that began or ended are told to the other processes later: {Why}")]
    private static partial void LogLater(ILogger logger, string why);
}
