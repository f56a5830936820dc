using System.Security.Cryptography;
using System.Text;
using Npgsql;

namespace Traceability.Service.People;

/// <summary>What wrong tries are counted by.</summary>
/// <param name="Key">Of bounded number: people and devices of the register, and a fixed number of buckets for whatever else is named.</param>
/// <param name="Allowed">Wrong tries before the first wait.</param>
/// <param name="ForgottenAfter">Quiet time after which the count begins anew.</param>
/// <param name="ClearedByRight">Whether a right try clears the count; otherwise it takes only itself back.</param>
public sealed record AttemptCount(string Key, int Allowed, TimeSpan ForgottenAfter, bool ClearedByRight)
{
    private const int Buckets = 65_536;

    /// <summary>By person and kind of secret. Whoever is not in the register shares a bucket, so that ids that nobody has fill nothing.</summary>
    public static AttemptCount Person(string kind, string? id, bool known) => new($"{kind} {(known ? id : Bucket(id))}", 5, TimeSpan.FromHours(24), true);

    /// <summary>By the kiosk at which people sign on: one that tries one PIN for everybody is stopped too.</summary>
    public static AttemptCount Device(string id) => new("device " + id, 20, TimeSpan.FromMinutes(10), false);

    /// <summary>By the address that signs in; a plant may stand behind one.</summary>
    public static AttemptCount Address(System.Net.IPAddress address) =>
        new("address " + Bucket(Of(address)), 60, TimeSpan.FromMinutes(10), false);

    /// <summary>What one sender's addresses have in common: of IPv6 the network that a subscriber is given.</summary>
    public static string Of(System.Net.IPAddress? address) => address is null ? ""
        : address.IsIPv4MappedToIPv6 ? address.MapToIPv4().ToString() : address.AddressFamily == System.Net.Sockets.AddressFamily.InterNetworkV6 ? Convert.ToHexString(address.GetAddressBytes(), 0, 8) : address.ToString();

    /// <summary>By the signed-on person who enters another's PIN as second approver.</summary>
    public static AttemptCount Asker(string id) => new("asker " + id, 10, TimeSpan.FromMinutes(30), false);

    private static string Bucket(string? of) => "#" + (BitConverter.ToUInt32(SHA256.HashData(Encoding.UTF8.GetBytes(of ?? ""))) % Buckets);
}

/// <summary>
/// Wrong tries at secrets, counted in PostgreSQL for every process of the service, over restarts. A try is counted before the secret is looked at, in
/// one step with the check, so that a burst gets no more tries than one after the other. The wait grows with every further wrong try, from
/// <see cref="ShortestWait"/> to <see cref="LongestWait"/> (NIST SP 800-63B, section 5.2.2, names growing waits of up to an hour; the figures are our own choice).
/// While the database is away each process counts for itself, from what it saw before, in a memory that the keys bound.
/// </summary>
public sealed class Attempts(NpgsqlDataSource source, TimeProvider clock)
{
    public static readonly TimeSpan ShortestWait = TimeSpan.FromMinutes(5), LongestWait = TimeSpan.FromMinutes(60);

    private static readonly TimeSpan AwayFor = TimeSpan.FromSeconds(10), Kept = TimeSpan.FromDays(2), SweepEvery = TimeSpan.FromMinutes(30);

    private const int PatienceSeconds = 5;

    private readonly Lock _lock = new();
    private readonly Dictionary<string, (int Wrong, DateTimeOffset Last)> _memory = new(StringComparer.Ordinal);
    private long _awaySince, _sweptAt;

    /// <summary>How long after the last of so many wrong tries the next may be made.</summary>
    public static TimeSpan Wait(int wrong, int allowed) =>
        wrong < allowed ? TimeSpan.Zero : TimeSpan.FromTicks(Math.Min(ShortestWait.Ticks << Math.Min(wrong - allowed, 8), LongestWait.Ticks));

    /// <summary>Counts a try before it is looked at.</summary>
    /// <returns>How long to wait instead; null when the try may be made.</returns>
    public TimeSpan? Take(IReadOnlyList<AttemptCount> counts)
    {
        TimeSpan? wait = null;
        if (!Asked(c => wait = Take(c, counts)))
        {
            lock (_lock) return Remembered(counts);
        }

        // What the database let through counts here too: when it goes away, nobody begins anew.
        lock (_lock)
        {
            if (wait is null) Remember(counts);
        }

        return wait;
    }

    /// <summary>Takes a counted try back that was right.</summary>
    public void WasRight(IReadOnlyList<AttemptCount> counts)
    {
        Asked(c => Right(c, counts));
        lock (_lock) Forget(counts);
    }

    // Without a thread of the pool in between: the request's own thread waits here as it does for the hash that follows. A burst would starve the pool, the
    // database would seem away, and each process would count for itself.
    private bool Asked(Action<NpgsqlConnection> ask)
    {
        var away = Interlocked.Read(ref _awaySince);
        if (away != 0 && clock.GetElapsedTime(away) <= AwayFor) return false;
        try
        {
            using var connection = source.OpenConnection();
            ask(connection);
            Interlocked.Exchange(ref _awaySince, 0);
            return true;
        }
        catch (Exception e) when (e is NpgsqlException || Recording.Recorder.IsAway(e))
        {
            Interlocked.Exchange(ref _awaySince, clock.GetTimestamp());
            return false;
        }
    }

    private TimeSpan? Take(NpgsqlConnection connection, IReadOnlyList<AttemptCount> counts)
    {
        var now = clock.GetUtcNow();
        Sweep(connection, now);
        using var transaction = connection.BeginTransaction();
        // In one order always, so that two tries never wait for each other.
        foreach (var count in counts.OrderBy(c => c.Key, StringComparer.Ordinal))
        {
            using var command = Command(connection, """
                insert into trace.attempt as a (key, wrong, last_at) values ($1, 1, $2)
                on conflict (key) do update set wrong = case when a.last_at < $2 - $4 then 1 else a.wrong + 1 end, last_at = $2
                where a.wrong < $3 or a.last_at + least($5 * power(2, least(a.wrong - $3, 8)), $6) <= $2
                returning wrong
                """, count.Key, now.UtcDateTime, count.Allowed, count.ForgottenAfter, ShortestWait, LongestWait);
            if (command.ExecuteScalar() is not null) continue;
            transaction.Rollback();
            using var read = Command(connection, "select wrong, last_at from trace.attempt where key = $1", count.Key);
            using var row = read.ExecuteReader();
            if (!row.Read()) return TimeSpan.FromSeconds(1);
            var left = row.GetFieldValue<DateTimeOffset>(1) + Wait(row.GetInt32(0), count.Allowed) - now;
            return left > TimeSpan.FromSeconds(1) ? left : TimeSpan.FromSeconds(1);
        }

        transaction.Commit();
        return null;
    }

    private static void Right(NpgsqlConnection connection, IReadOnlyList<AttemptCount> counts)
    {
        foreach (var count in counts.OrderBy(c => c.Key, StringComparer.Ordinal))
        {
            using var command = Command(connection, count.ClearedByRight ? "delete from trace.attempt where key = $1" : "update trace.attempt set wrong = greatest(wrong - 1, 0) where key = $1", count.Key);
            command.ExecuteNonQuery();
        }
    }

    private void Sweep(NpgsqlConnection connection, DateTimeOffset now)
    {
        var last = Interlocked.Read(ref _sweptAt);
        if ((last != 0 && clock.GetElapsedTime(last) < SweepEvery) || Interlocked.CompareExchange(ref _sweptAt, clock.GetTimestamp(), last) != last) return;
        using var command = Command(connection, "delete from trace.attempt where last_at < $1", (now - Kept).UtcDateTime);
        command.ExecuteNonQuery();
    }

    private static NpgsqlCommand Command(NpgsqlConnection connection, string sql, params object[] parameters)
    {
        var command = new NpgsqlCommand(sql, connection) { CommandTimeout = PatienceSeconds };
        foreach (var parameter in parameters) command.Parameters.Add(new() { Value = parameter });
        return command;
    }

    private TimeSpan? Remembered(IReadOnlyList<AttemptCount> counts)
    {
        var now = clock.GetUtcNow();
        foreach (var count in counts)
        {
            if (_memory.TryGetValue(count.Key, out var had) && had.Last + Wait(had.Wrong, count.Allowed) - now is { Ticks: > 0 } left) return left;
        }

        Remember(counts);
        return null;
    }

    private void Remember(IReadOnlyList<AttemptCount> counts)
    {
        var now = clock.GetUtcNow();
        foreach (var count in counts)
        {
            _memory[count.Key] = _memory.TryGetValue(count.Key, out var had) && now - had.Last <= count.ForgottenAfter ? (had.Wrong + 1, now) : (1, now);
        }
    }

    private void Forget(IReadOnlyList<AttemptCount> counts)
    {
        foreach (var count in counts)
        {
            if (count.ClearedByRight) _memory.Remove(count.Key);
            else if (_memory.TryGetValue(count.Key, out var had)) _memory[count.Key] = had with { Wrong = Math.Max(had.Wrong - 1, 0) };
        }
    }
}
