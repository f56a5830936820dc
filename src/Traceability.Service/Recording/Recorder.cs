using System.Globalization;
using System.Diagnostics;
using System.Security.Cryptography;
using System.Text.Json;
using JasperFx.Events;
using Marten;
using Npgsql;
using NpgsqlTypes;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Operations;

namespace Traceability.Service.Recording;

/// <summary>
/// Writes facts into the store: drops what is known, appends events, keeps the exact bytes beside them and inserts the
/// links, all in one transaction. One transaction at a time over all processes: its first statement locks the recorder's
/// row, so that positions, recorded times and commits have one order.
/// </summary>
public sealed partial class Recorder(IDocumentStore store, NpgsqlDataSource source, TimeProvider clock, ILogger<Recorder> log)
{
    /// <summary>CloudEvents source of the decisions that the service itself writes; no station may send under it.</summary>
    public const string DecisionsSource = "/service/decisions";

    /// <summary>Records the entries. Answers in their order. Throws only when the database is away: then nothing was recorded and the call may be repeated.</summary>
    public async Task<IReadOnlyList<Outcome>> RecordAsync(IReadOnlyList<Received> entries, CancellationToken cancel)
    {
        using var span = Span(entries);
        try
        {
            return await WriteAsync(entries, cancel);
        }
        catch (Exception e) when (!IsAway(e) && !cancel.IsCancellationRequested)
        {
            // One entry spoils its batch; halving finds it, and only it is parked.
            if (entries.Count == 1) return [await ParkAsync(entries[0], e, cancel)];
            var half = entries.Count / 2;
            var first = await RecordAsync([.. entries.Take(half)], cancel);
            return [.. first, .. await RecordAsync([.. entries.Skip(half)], cancel)];
        }
    }

    /// <summary>Keys of the subjects that a fact is about.</summary>
    internal static IReadOnlyList<string> Subjects(IFact fact, CloudEvent sent) =>
        [.. Core.Dossiers.Links.OfRecord(fact, sent, sent.RecordId).Where(l => l.Kind == LinkKind.About).Select(l => l.From.Key).Distinct(StringComparer.Ordinal)];

    // A batch belongs to many requests: it goes on from the first one's trace and names the others.
    private static Activity? Span(IReadOnlyList<Received> entries)
    {
        var origins = entries.Select(e => ActivityContext.TryParse(e.TraceParent, null, isRemote: true, out var origin) ? origin : default)
            .Where(c => c.TraceId != default).Distinct().Take(32).ToList();
        var span = Telemetry.Source.StartActivity("record", ActivityKind.Consumer, origins.FirstOrDefault(), links: origins.Skip(1).Select(c => new ActivityLink(c)));
        span?.SetTag("trace.entries", entries.Count);
        return span;
    }

    /// <summary>Whether a failure says that the database cannot be reached or is going down, rather than that an entry is bad.</summary>
    public static bool IsAway(Exception e) => e switch
    {
        PostgresException p => p.IsTransient || p.SqlState.StartsWith("57", StringComparison.Ordinal) || p.SqlState.StartsWith("08", StringComparison.Ordinal)
            // Class 28, a connection or a password that is not taken: nothing of what was to be written is at fault.
            || p.SqlState.StartsWith("28", StringComparison.Ordinal)
            || p.SqlState.StartsWith("53", StringComparison.Ordinal) || p.SqlState is "40001" or "40P01" or "25P03" or "55P03",
        NpgsqlException or IOException or TimeoutException or System.Net.Sockets.SocketException or OperationCanceledException => true,
        _ => e.InnerException is { } inner && IsAway(inner),
    };

    private async Task<IReadOnlyList<Outcome>> WriteAsync(IReadOnlyList<Received> entries, CancellationToken cancel)
    {
        var read = entries.Select(e => (Entry: e, Sent: CloudEvent.ReadCanonical(e.Canonical))).ToList();
        await using var writing = await BeginAsync(cancel);
        for (var i = 0; i < read.Count; i++)
        {
            var (entry, sent) = read[i];
            if (entry.WaitsFor != WaitsFor.Weighing || !FactCatalog.All.TryGetValue(sent.Type, out var type)) continue;
            var fact = FactCatalog.Read(type, sent.Data);
            if (!await Restating.MayOpenAsync(writing.Connection, fact, Subjects(fact, sent), cancel)) read[i] = (entry with { Quarantine = null, WaitsFor = WaitsFor.Administrator }, sent);
        }

        var outcomes = await writing.AddAsync(read, cancel);
        await writing.CommitAsync(cancel);
        Telemetry.Recorded.Add(outcomes.Count(o => o.Status is EntryStatus.Recorded or EntryStatus.Conflict));
        return outcomes;
    }

    /// <summary>Opens the one writing transaction; holds every other writer off until it is committed or disposed.</summary>
    public async Task<Writing> BeginAsync(CancellationToken cancel)
    {
        var connection = await source.OpenConnectionAsync(cancel);
        try
        {
            var transaction = await connection.BeginTransactionAsync(cancel);
            await using var command = new NpgsqlCommand(
                "update trace.recorder set last_recorded_at = greatest($1, last_recorded_at + interval '1 microsecond') returning last_recorded_at", connection, transaction)
            { Parameters = { new() { Value = clock.GetUtcNow().UtcDateTime, NpgsqlDbType = NpgsqlDbType.TimestampTz } } };
            var at = new DateTimeOffset((DateTime)(await command.ExecuteScalarAsync(cancel))!, TimeSpan.Zero);
            return new Writing(store, connection, transaction, at, Telemetry.Source.StartActivity("write"));
        }
        catch
        {
            await connection.DisposeAsync();
            throw;
        }
    }

    private async Task<Outcome> ParkAsync(Received entry, Exception reason, CancellationToken cancel)
    {
        // Even bytes that no longer read as an event are kept, under the hash of what they are.
        var hash = Convert.ToHexStringLower(SHA256.HashData(entry.Canonical));
        var (id, from, eventId, type) = (RecordId.Of("unreadable", hash), "unreadable", hash, "unreadable");
        try
        {
            var sent = CloudEvent.ReadCanonical(entry.Canonical);
            (id, from, eventId, type) = (sent.RecordId, sent.Source, sent.Id, sent.Type);
        }
        catch (Exception e) when (e is FactShapeException or JsonException)
        {
            // Named by its hash.
        }

        LogParked(log, reason, id, type);
        await using var command = source.CreateCommand("""
            insert into trace.parked (id, content_hash, source, event_id, type, device, assurance, reason, bytes, received_at, parked_at, signature_key, signature)
            values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) on conflict do nothing
            """);
        foreach (var value in new object?[] { id, hash, from, eventId, type, entry.Device, entry.Assurance, reason.Message, entry.Canonical, entry.ReceivedAt.UtcDateTime, clock.GetUtcNow().UtcDateTime, entry.Signature?.Key, entry.Signature?.Value })
            command.Parameters.Add(new() { Value = value ?? DBNull.Value });
        await command.ExecuteNonQueryAsync(cancel);
        Telemetry.Parked.Add(1);
        return new Outcome(id, EntryStatus.Parked, null, reason.Message);
    }

    [LoggerMessage(LogLevel.Error, "Parked {RecordId} of type {FactType}: it could not be recorded")]
    private static partial void LogParked(ILogger logger, Exception reason, Guid recordId, string factType);
}

/// <summary>The open writing transaction.</summary>
public sealed class Writing : IAsyncDisposable
{
    private readonly IDocumentStore _store;
    private readonly NpgsqlTransaction _transaction;
    private readonly Activity? _span;
    private readonly long _began = Stopwatch.GetTimestamp();
    private int _judgements;

    /// <param name="span">Open for as long as every other writer waits.</param>
    internal Writing(IDocumentStore store, NpgsqlConnection connection, NpgsqlTransaction transaction, DateTimeOffset recordedAt, Activity? span)
    {
        _store = store;
        _span = span;
        Connection = connection;
        _transaction = transaction;
        RecordedAt = recordedAt;
    }

    public NpgsqlConnection Connection { get; }

    /// <summary>The time all records of this transaction carry; later than that of every earlier one.</summary>
    public DateTimeOffset RecordedAt { get; }

    /// <summary>Adds facts: known ones are dropped, quarantined ones set apart.</summary>
    public async Task<IReadOnlyList<Outcome>> AddAsync(IReadOnlyList<(Received Entry, CloudEvent Sent)> entries, CancellationToken cancel)
    {
        entries = await AgencyWords.WeighAsync(Connection, entries, cancel);
        var outcomes = new Outcome[entries.Count];
        var known = await KnownAsync([.. entries.Select(e => e.Sent.RecordId).Concat(entries.Select(e => RecordId.OfConflict(e.Sent.Source, e.Sent.Id, e.Sent.ContentHash)))], cancel);
        var fresh = new List<(int Index, Row Row)>();
        for (var i = 0; i < entries.Count; i++)
        {
            var (entry, sent) = entries[i];
            var id = sent.RecordId;
            if (entry.Quarantine is { } reason)
            {
                // What counts already keeps its receipt, even when its device or person may no longer send.
                var counted = new[] { id, RecordId.OfConflict(sent.Source, sent.Id, sent.ContentHash) }.FirstOrDefault(k => known.TryGetValue(k, out var had) && had.Hash == sent.ContentHash);
                if (counted != default)
                {
                    outcomes[i] = new(counted, EntryStatus.Duplicate, known[counted].Position);
                    continue;
                }

                await QuarantineAsync(entry, sent, reason, cancel);
                outcomes[i] = new(id, SetApart.StatusOf(entry.WaitsFor), null, reason);
                continue;
            }

            Guid? conflictOf = null;
            if (known.TryGetValue(id, out var first))
            {
                if (first.Hash == sent.ContentHash)
                {
                    outcomes[i] = new(id, EntryStatus.Duplicate, first.Position);
                    continue;
                }

                conflictOf = id;
                id = RecordId.OfConflict(sent.Source, sent.Id, sent.ContentHash);
                if (known.TryGetValue(id, out var second))
                {
                    outcomes[i] = new(id, EntryStatus.Conflict, second.Position, "another content was recorded under this id");
                    continue;
                }
            }

            known[id] = (sent.ContentHash, null);
            // A claim that comes again with proof counts, and waits no longer.
            if (FactCatalog.All.GetValueOrDefault(sent.Type)?.Kind == FactKind.Act) await SettleAsync(sent, "sent again with proof", cancel);
            var bytes = Record.Write(sent, id, entry.Device, entry.Assurance, entry.ReceivedAt, RecordedAt, entry.Signature);
            fresh.Add((i, Row.Of(sent, id, entry.Device, bytes, RecordedAt, conflictOf, entry.TraceParent)));
        }

        await AppendAsync(fresh.ConvertAll(f => f.Row), cancel);
        foreach (var (index, row) in fresh)
        {
            outcomes[index] = new(row.Id, row.ConflictOf is null ? EntryStatus.Recorded : EntryStatus.Conflict, row.Position,
                row.ConflictOf is null ? null : "another content was recorded under this id");
        }

        // A repeat inside the same batch learns the position of its twin.
        for (var i = 0; i < outcomes.Length; i++)
        {
            if (outcomes[i].Status == EntryStatus.Duplicate && outcomes[i].Position is null)
                outcomes[i] = outcomes[i] with { Position = fresh.First(f => f.Row.Id == outcomes[i].RecordId).Row.Position };
        }

        await AgencyWords.LetThroughAsync(this, fresh.ConvertAll(f => f.Row.Fact), cancel);
        return outcomes;
    }

    /// <summary>What would become of one fact if it were added next, without adding it.</summary>
    /// <param name="next">The position that it is thought at.</param>
    internal static async Task<Outcome> ForeseeAsync(NpgsqlConnection connection, Received entry, CloudEvent sent, long next, CancellationToken cancel)
    {
        if ((await AgencyWords.WeighAsync(connection, [(entry, sent)], cancel))[0].Entry.Quarantine is { } reason) return new(sent.RecordId, EntryStatus.Quarantined, null, reason);
        var other = RecordId.OfConflict(sent.Source, sent.Id, sent.ContentHash);
        var known = await KnownAsync(connection, null, [sent.RecordId, other], cancel);
        if (!known.TryGetValue(sent.RecordId, out var first)) return new(sent.RecordId, EntryStatus.Recorded, next);
        if (first.Hash == sent.ContentHash) return new(sent.RecordId, EntryStatus.Duplicate, first.Position);
        return known.TryGetValue(other, out var second) ? new(other, EntryStatus.Conflict, second.Position) : new(other, EntryStatus.Conflict, next);
    }

    /// <summary>Adds records exactly as they were exported, in their order.</summary>
    /// <exception cref="InvalidDataException">One says that it was recorded before one in front of it: nothing of that kind is exported.</exception>
    public async Task<int> ImportAsync(IReadOnlyList<Record> records, CancellationToken cancel)
    {
        var known = await KnownAsync([.. records.Select(r => r.Id)], cancel);
        var rows = records.Where(r => !known.ContainsKey(r.Id)).Select(r => Row.Of(r.Sent, r.Id, r.Device, r.Bytes.ToArray(), r.RecordedAt,
            r.Id == r.Sent.RecordId ? null : r.Sent.RecordId)).ToList();
        if (rows.Count == 0) return 0;
        await using (var newest = new NpgsqlCommand("select recorded_at from trace.record order by position desc limit 1", Connection, _transaction))
        {
            var last = await newest.ExecuteScalarAsync(cancel) is DateTime at ? new DateTimeOffset(at, TimeSpan.Zero) : DateTimeOffset.MinValue;
            foreach (var row in rows)
            {
                if (row.RecordedAt < last) throw new InvalidDataException(string.Create(CultureInfo.InvariantCulture, $"record {row.Id} says that it was recorded at {row.RecordedAt:O}, before one in front of it ({last:O}). Import an export as it was written, into an empty store."));
                last = row.RecordedAt;
            }

            // What is recorded from now on follows the imported, whatever the clock says.
            await using var follow = new NpgsqlCommand("update trace.recorder set last_recorded_at = greatest(last_recorded_at, $1)", Connection, _transaction) { Parameters = { new() { Value = last.UtcDateTime } } };
            await follow.ExecuteNonQueryAsync(cancel);
        }

        // One event at a time keeps the exported order across streams, and with it the leaves' order and the root.
        foreach (var row in rows) await AppendEventsAsync([row], cancel);
        await InsertAsync(rows, cancel);
        return rows.Count;
    }

    /// <summary>Stores a document of the register in this transaction.</summary>
    internal async Task StoreAsync(object document, CancellationToken cancel)
    {
        await using var session = _store.LightweightSession(Marten.Services.SessionOptions.ForTransaction(_transaction));
        session.StoreObjects([document]);
        await session.SaveChangesAsync(cancel);
    }

    public Task CommitAsync(CancellationToken cancel) => _transaction.CommitAsync(cancel);

    /// <summary>Counts a judgement made while everybody else waits.</summary>
    internal void Judged() => _judgements++;

    public async ValueTask DisposeAsync()
    {
        await _transaction.DisposeAsync();
        Telemetry.Writing.Record(Stopwatch.GetElapsedTime(_began).TotalSeconds);
        _span?.SetTag(Telemetry.JudgementsInside, _judgements);
        _span?.Dispose();
        await Connection.DisposeAsync();
    }

    private async Task AppendAsync(List<Row> rows, CancellationToken cancel)
    {
        if (rows.Count == 0) return;
        await AppendEventsAsync(rows, cancel);
        await InsertAsync(rows, cancel);
    }

    private async Task AppendEventsAsync(List<Row> rows, CancellationToken cancel)
    {
        await using var session = _store.LightweightSession(Marten.Services.SessionOptions.ForTransaction(_transaction));
        foreach (var stream in rows.GroupBy(r => r.Stream, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            session.Events.Append(stream.Key, stream.Select(r =>
            {
                r.Event = session.Events.BuildEvent(r.Fact);
                r.Event.Id = r.Id;
                return (object)r.Event;
            }).ToArray());
        }

        await session.SaveChangesAsync(cancel);
        foreach (var row in rows) row.Position = row.Event!.Sequence;
    }

    private Task<Dictionary<Guid, (string Hash, long? Position)>> KnownAsync(Guid[] ids, CancellationToken cancel) => KnownAsync(Connection, _transaction, ids, cancel);

    private static async Task<Dictionary<Guid, (string Hash, long? Position)>> KnownAsync(NpgsqlConnection connection, NpgsqlTransaction? transaction, Guid[] ids, CancellationToken cancel)
    {
        var known = new Dictionary<Guid, (string, long?)>();
        await using var command = new NpgsqlCommand("select id, content_hash, position from trace.record where id = any($1)", connection, transaction)
        { Parameters = { new() { Value = ids } } };
        await using var reader = await command.ExecuteReaderAsync(cancel);
        while (await reader.ReadAsync(cancel)) known[reader.GetGuid(0)] = (reader.GetString(1), reader.GetInt64(2));
        return known;
    }

    private async Task InsertAsync(List<Row> rows, CancellationToken cancel)
    {
        if (rows.Count == 0) return;
        var abouts = new List<(string Subject, long Position)>();
        // A link that one record states as certain and another as possible (through a storage) stands twice: either way may be taken back.
        var links = new Dictionary<(string From, short Kind, string To, bool Possible), long>();
        // By position, which within a batch is not the order they came in: a link stands at the first record that makes it, so that a dossier as known there has it.
        foreach (var row in rows.OrderBy(r => r.Position))
        {
            foreach (var link in row.Links)
            {
                if (link.Kind == LinkKind.About) abouts.Add((link.From.Key, row.Position));
                else links.TryAdd((link.From.Key, (short)link.Kind, link.To.Key, link.Possible), row.Position);
            }
        }

        await using var batch = new NpgsqlBatch(Connection, _transaction);
        batch.BatchCommands.Add(Command("""
            insert into trace.record (position, id, source, event_id, type, stream, content_hash, leaf_hash, bytes, device, person, occurred_at, recorded_at, conflict_of, trace_parent)
            select * from unnest($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)
            """,
            rows.ConvertAll(r => r.Position), rows.ConvertAll(r => r.Id), rows.ConvertAll(r => r.Sent.Source), rows.ConvertAll(r => r.Sent.Id), rows.ConvertAll(r => r.Sent.Type),
            rows.ConvertAll(r => r.Stream), rows.ConvertAll(r => r.Sent.ContentHash), rows.ConvertAll(r => Record.LeafHash(r.Bytes)), rows.ConvertAll(r => r.Bytes),
            rows.ConvertAll(r => r.Device), rows.ConvertAll(r => r.Sent.Person), rows.ConvertAll(r => r.Sent.Time.UtcDateTime), rows.ConvertAll(r => r.RecordedAt.UtcDateTime),
            rows.ConvertAll(r => r.ConflictOf), rows.ConvertAll(r => r.TraceParent)));
        batch.BatchCommands.Add(Command("insert into trace.about (subject, position) select * from unnest($1, $2)",
            abouts.ConvertAll(a => a.Subject), abouts.ConvertAll(a => a.Position)));
        var ordered = links.OrderBy(l => l.Key.From, StringComparer.Ordinal).ThenBy(l => l.Key.Kind).ThenBy(l => l.Key.To, StringComparer.Ordinal).ToList();
        batch.BatchCommands.Add(Command("insert into trace.link (from_subject, kind, to_subject, position, possible) select * from unnest($1, $2, $3, $4, $5) on conflict (from_subject, kind, to_subject, possible) do nothing",
            ordered.ConvertAll(l => l.Key.From), ordered.ConvertAll(l => l.Key.Kind), ordered.ConvertAll(l => l.Key.To), ordered.ConvertAll(l => l.Value), ordered.ConvertAll(l => l.Key.Possible)));
        await batch.ExecuteNonQueryAsync(cancel);
    }

    /// <summary>Marks what was set apart under a fact's id and content as settled; nothing when there is none.</summary>
    internal async Task SettleAsync(CloudEvent sent, string by, CancellationToken cancel)
    {
        await using var settle = new NpgsqlCommand("update trace.quarantine set cleared_by = $3, cleared_at = $4 where id = $1 and content_hash = $2 and cleared_at is null", Connection, _transaction)
        { Parameters = { new() { Value = sent.RecordId }, new() { Value = sent.ContentHash }, new() { Value = by }, new() { Value = RecordedAt.UtcDateTime } } };
        await settle.ExecuteNonQueryAsync(cancel);
    }

    private async Task QuarantineAsync(Received entry, CloudEvent sent, string reason, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("""
            insert into trace.quarantine (id, content_hash, source, event_id, type, device, person, assurance, reason, bytes, received_at, waits_for, signature_key, signature)
            values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14) on conflict do nothing
            """, Connection, _transaction);
        foreach (var value in new object?[] { sent.RecordId, sent.ContentHash, sent.Source, sent.Id, sent.Type, entry.Device, sent.Person, entry.Assurance, reason, entry.Canonical, entry.ReceivedAt.UtcDateTime, SetApart.Name(entry.WaitsFor), entry.Signature?.Key, entry.Signature?.Value })
            command.Parameters.Add(new() { Value = value ?? DBNull.Value });
        await command.ExecuteNonQueryAsync(cancel);
        if (entry.WaitsFor == WaitsFor.Administrator) Telemetry.Quarantined.Add(1);
    }

    private static NpgsqlBatchCommand Command(string sql, params object[] parameters)
    {
        var command = new NpgsqlBatchCommand(sql);
        foreach (var parameter in parameters) command.Parameters.Add(new() { Value = parameter });
        return command;
    }

    private sealed class Row
    {
        public required Guid Id { get; init; }
        public required CloudEvent Sent { get; init; }
        public required IFact Fact { get; init; }
        public required string Stream { get; init; }
        public required string Device { get; init; }
        public required byte[] Bytes { get; init; }
        public required DateTimeOffset RecordedAt { get; init; }
        public required IReadOnlyList<Link> Links { get; init; }
        public Guid? ConflictOf { get; init; }
        public string? TraceParent { get; init; }
        public IEvent? Event { get; set; }
        public long Position { get; set; }

        public static Row Of(CloudEvent sent, Guid id, string device, byte[] bytes, DateTimeOffset recordedAt, Guid? conflictOf, string? traceParent = null)
        {
            var type = FactCatalog.All.GetValueOrDefault(sent.Type) ?? throw new InvalidDataException($"type '{sent.Type}' is not known to this version");
            var fact = FactCatalog.Read(type, sent.Data);
            return new Row
            {
                Id = id,
                Sent = sent,
                Fact = fact,
                Stream = fact.About.Key,
                Device = device,
                Bytes = bytes,
                RecordedAt = recordedAt,
                Links = Core.Dossiers.Links.OfRecord(fact, sent, id),
                ConflictOf = conflictOf,
                TraceParent = traceParent,
            };
        }
    }
}
