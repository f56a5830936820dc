using Microsoft.Extensions.Diagnostics.HealthChecks;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Service.Linking;

/// <summary>
/// Goes round the records for ever and compares the link index with what they say. The index is no part of the sealed log: whoever deletes a row of it
/// takes evidence out of every dossier without touching a record. What is missing is put back at once, the units are judged anew, and readiness says so.
/// What no record makes is said too: it makes a dossier hold too much, which assembling drops, and a recall name units for nothing.
/// </summary>
public sealed partial class LinkAudit(NpgsqlDataSource source, TimeProvider clock, ILogger<LinkAudit> log) : BackgroundService
{
    /// <summary>Records compared at a time, and the pause between. Our own choice: a hundred thousand records in about a quarter of an hour.</summary>
    private const int Page = 500;

    private static readonly TimeSpan Pause = TimeSpan.FromSeconds(5);

    private long _missing;
    private volatile bool _astray, _foreign;

    /// <summary>Whether a row was found that the record at its position does not make. Only the owner of the tables makes the index anew.</summary>
    public bool Foreign => _foreign;

    /// <summary>Whether a link was found that stands at a position where no record is: no dossier follows it. Only the owner of the tables makes the index anew.</summary>
    public bool Astray => _astray;

    /// <summary>Rows that were missing since this process began.</summary>
    public long Missing => Interlocked.Read(ref _missing);

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        var (after, row) = (0L, default(Row?));
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                after = await CompareAsync(after, stoppingToken);
                row = await CompareRowsAsync(row, stoppingToken);
                await Task.Delay(Pause, clock, stoppingToken);
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                return;
            }
#pragma warning disable CA1031 // An audit that ended would take the whole worker with it; it is tried again.
            catch (Exception e)
#pragma warning restore CA1031
            {
                LogLater(log, e.Message);
                await Task.Delay(Pause, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    /// <summary>Compares the records that follow a position.</summary>
    /// <returns>The position to go on after; 0 after the newest, to begin again.</returns>
    public async Task<long> CompareAsync(long after, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        var (from, unreadable) = (after, new HashSet<long>());
        var records = new List<Record>();
        await using (var read = new NpgsqlCommand($"select position, bytes from trace.record where position > $1 order by position limit {Page}", connection) { Parameters = { new() { Value = after } } })
        await using (var reader = await read.ExecuteReaderAsync(cancel))
        {
            while (await reader.ReadAsync(cancel))
            {
                // Bytes that do not read were changed; that is the signer's to say.
                if (TryRead(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)) is { } record) records.Add(record);
                else unreadable.Add(reader.GetInt64(0));
                after = reader.GetInt64(0);
            }
        }

        if (records.Count == 0 && unreadable.Count == 0)
        {
            // Beyond the newest record stands nothing.
            await using var beyond = new NpgsqlCommand("select exists (select from trace.about a where a.position > $1 and not exists (select from trace.record r where r.position = a.position))", connection) { Parameters = { new() { Value = from } } };
            if ((bool)(await beyond.ExecuteScalarAsync(cancel))!) SayForeign();
            return 0;
        }

        var rows = records.SelectMany(r => r.Links().Select(l => (Link: l, r.Position))).ToList();
        var (abouts, links) = (rows.Where(r => r.Link.Kind == LinkKind.About).ToList(), rows.Where(r => r.Link.Kind != LinkKind.About).ToList());
        var made = abouts.Select(a => (a.Link.From.Key, a.Position)).ToHashSet();
        await using (var command = new NpgsqlCommand("select subject, position from trace.about where position > $1 and position <= $2", connection) { Parameters = { new() { Value = from }, new() { Value = after } } })
        await using (var reader = await command.ExecuteReaderAsync(cancel))
        {
            while (await reader.ReadAsync(cancel))
            {
                if (!made.Contains((reader.GetString(0), reader.GetInt64(1))) && !unreadable.Contains(reader.GetInt64(1))) SayForeign();
            }
        }

        await using var transaction = await connection.BeginTransactionAsync(cancel);
        var positions = new HashSet<long>();
        var missing = 0L;
        await using (var command = new NpgsqlCommand("insert into trace.about (subject, position) select * from unnest($1, $2) on conflict do nothing returning position", connection, transaction)
        { Parameters = { new() { Value = abouts.ConvertAll(r => r.Link.From.Key) }, new() { Value = abouts.ConvertAll(r => r.Position) } } })
        {
            missing += await PutBackAsync(command, positions, cancel);
        }

        await using (var command = new NpgsqlCommand("insert into trace.link (from_subject, kind, to_subject, position, possible) select * from unnest($1, $2, $3, $4, $5) on conflict (from_subject, kind, to_subject, possible) do nothing returning position", connection, transaction)
        {
            Parameters =
            {
                new() { Value = links.ConvertAll(r => r.Link.From.Key) }, new() { Value = links.ConvertAll(r => (short)r.Link.Kind) }, new() { Value = links.ConvertAll(r => r.Link.To.Key) },
                new() { Value = links.ConvertAll(r => r.Position) }, new() { Value = links.ConvertAll(r => r.Link.Possible) },
            },
        })
        {
            missing += await PutBackAsync(command, positions, cancel);
        }

        // One that stands later than a record that makes it is missing in what was known between the two; beyond every record it is as good as deleted. It is not the service's to change.
        await using (var command = new NpgsqlCommand("""
            select exists (select from unnest($1, $2, $3, $4, $5) as e(f, k, t, p, at) join trace.link l on l.from_subject = e.f and l.kind = e.k and l.to_subject = e.t and l.possible = e.p
                where l.position > e.at or not exists (select from trace.record r where r.position = l.position))
            """, connection, transaction)
        {
            Parameters =
            {
                new() { Value = links.ConvertAll(r => r.Link.From.Key) }, new() { Value = links.ConvertAll(r => (short)r.Link.Kind) }, new() { Value = links.ConvertAll(r => r.Link.To.Key) },
                new() { Value = links.ConvertAll(r => r.Link.Possible) }, new() { Value = links.ConvertAll(r => r.Position) },
            },
        })
        {
            if ((bool)(await command.ExecuteScalarAsync(cancel))!)
            {
                if (!_astray) LogAstray(log);
                _astray = true;
            }
        }

        if (positions.Count > 0)
        {
            // All between them, in one statement: a unit too many is judged anew, and none is locked out of turn.
            await using var mark = new NpgsqlCommand(s_mark, connection, transaction) { Parameters = { new() { Value = positions.Min() - 1 }, new() { Value = positions.Max() }, new() { Value = positions.Max() } } };
            await mark.ExecuteNonQueryAsync(cancel);
        }

        await transaction.CommitAsync(cancel);
        Interlocked.Add(ref _missing, missing);
        if (positions.Count > 0) LogMissing(log, Missing, positions.Min());
        return after;
    }

    /// <summary>A row of the index of links, by its key.</summary>
    public sealed record Row(string From, short Kind, string To, bool Possible);

    /// <summary>Compares the rows of links that follow one, by their key: whether the record at its position makes it. The first record that made a link gave it its position, so any other that makes it too is not asked.</summary>
    /// <returns>The row to go on after; null after the last, to begin again.</returns>
    public async Task<Row?> CompareRowsAsync(Row? after, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using var command = new NpgsqlCommand($"""
            select l.from_subject, l.kind, l.to_subject, l.possible, l.position, r.bytes from
                (select * from trace.link where (from_subject, kind, to_subject, possible) > ($1, $2, $3, $4) order by from_subject, kind, to_subject, possible limit {Page}) l
            left join trace.record r on r.position = l.position order by l.from_subject, l.kind, l.to_subject, l.possible
            """, connection)
        { Parameters = { new() { Value = after?.From ?? "" }, new() { Value = after?.Kind ?? short.MinValue }, new() { Value = after?.To ?? "" }, new() { Value = after?.Possible ?? false } } };
        var read = new Dictionary<long, Record?>();
        var rows = 0;
        await using var reader = await command.ExecuteReaderAsync(cancel);
        while (await reader.ReadAsync(cancel))
        {
            rows++;
            after = new(reader.GetString(0), reader.GetInt16(1), reader.GetString(2), reader.GetBoolean(3));
            // Where no record is: said as astray where a record makes it, and here where none does.
            if (reader.IsDBNull(5)) SayForeign();
            else
            {
                var position = reader.GetInt64(4);
                if (!read.TryGetValue(position, out var record)) read[position] = record = TryRead(reader.GetFieldValue<byte[]>(5), position);
                if (record is not null && !record.Links().Any(l => l.From.Key == after.From && (short)l.Kind == after.Kind && l.To.Key == after.To && l.Possible == after.Possible)) SayForeign();
            }
        }

        return rows < Page ? null : after;
    }

    private void SayForeign()
    {
        if (!_foreign) LogForeign(log);
        _foreign = true;
    }

    private static readonly string s_mark = Numbered(Assembling.MarkStale.Sql(Assembling.MarkStale.Few));

    private static string Numbered(string sql)
    {
        var number = 0;
        return string.Concat(sql.Select(c => c == '?' ? string.Create(System.Globalization.CultureInfo.InvariantCulture, $"${++number}") : c.ToString()));
    }

    private static Record? TryRead(byte[] bytes, long position)
    {
        try
        {
            return Record.Read(bytes, position);
        }
        catch (Exception e) when (e is System.Text.Json.JsonException or Core.Events.FactShapeException or FormatException or KeyNotFoundException)
        {
            return null;
        }
    }

    private static async Task<long> PutBackAsync(NpgsqlCommand command, HashSet<long> positions, CancellationToken cancel)
    {
        var rows = 0L;
        await using var reader = await command.ExecuteReaderAsync(cancel);
        while (await reader.ReadAsync(cancel))
        {
            positions.Add(reader.GetInt64(0));
            rows++;
        }

        return rows;
    }

    [LoggerMessage(LogLevel.Critical, "{Missing} rows were missing from the link index and were put back, the first of the record at position {Position}: they were deleted in the database, or an earlier version of this program made it")]
    private static partial void LogMissing(ILogger logger, long missing, long position);

    [LoggerMessage(LogLevel.Critical, "The link index has a link at a position where no record is, or later than a record that makes it: somebody changed the database, or an earlier version of this program made it. Run ops/plant rebuild links")]
    private static partial void LogAstray(ILogger logger);

    [LoggerMessage(LogLevel.Critical, "The link index has a row that no record makes: somebody added it in the database, or an earlier version of this program made it. Run ops/plant rebuild links")]
    private static partial void LogForeign(ILogger logger);

    [LoggerMessage(LogLevel.Warning, "Comparing the link index waits: {Why}")]
    private static partial void LogLater(ILogger logger, string why);
}

/// <summary>Nothing was missing from the link index since this process began.</summary>
public sealed class LinkHealth(LinkAudit audit) : IHealthCheck
{
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default) => Task.FromResult(
        audit.Astray ? HealthCheckResult.Degraded("a link stands where no record is, or later than a record that makes it, so dossiers of some time lack what it leads to; find out whether somebody changed the database or an earlier version made it, and run ops/plant rebuild links")
        : audit.Foreign ? HealthCheckResult.Degraded("the link index has a row that no record makes; find out who changed the database, and run ops/plant rebuild links")
        : audit.Missing == 0 ? HealthCheckResult.Healthy()
        : HealthCheckResult.Degraded($"{audit.Missing} rows were missing from the link index and were put back; find out who changed the database, and run ops/plant rebuild links"));
}
