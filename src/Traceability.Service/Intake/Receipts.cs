using Npgsql;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.Recording;

namespace Traceability.Service.Intake;

/// <summary>Looks up what became of facts.</summary>
public sealed class Receipts(NpgsqlDataSource source)
{
    public async Task<IReadOnlyList<Receipt>> OfAsync(IReadOnlyList<IntakeEndpoints.SentFact> sent, CancellationToken cancel)
    {
        var ids = sent.Select(s => RecordId.Of(s.Source, s.Id)).ToArray();
        var found = new Dictionary<Guid, Receipt>();
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using (var command = new NpgsqlCommand("""
            select r.id, r.content_hash, r.position, l.index < (select coalesce(max(size), 0) from trace.checkpoint) as sealed,
                   (select count(*) from trace.record c where c.conflict_of = r.id)
            from trace.record r left join trace.log_leaf l on l.record_id = r.id where r.id = any($1)
            """, connection) { Parameters = { new() { Value = ids } } })
        {
            await using var reader = await command.ExecuteReaderAsync(cancel);
            while (await reader.ReadAsync(cancel))
            {
                var conflicts = reader.GetInt64(4);
                found[reader.GetGuid(0)] = new Receipt
                {
                    RecordId = reader.GetGuid(0),
                    ContentHash = reader.GetString(1),
                    Position = reader.GetInt64(2),
                    Sealed = !await reader.IsDBNullAsync(3, cancel) && reader.GetBoolean(3),
                    Status = conflicts > 0 ? EntryStatus.Conflict : EntryStatus.Recorded,
                    Problem = conflicts > 0 ? Problems.Of(409, "conflict", "Another content was recorded under this id; both are shown", $"{conflicts} further contents were recorded under this id.") : null,
                };
            }
        }

        foreach (var waits in Enum.GetValues<WaitsFor>())
            await ApartAsync(connection, $"quarantine where cleared_at is null and waits_for = '{SetApart.Name(waits)}' and", SetApart.StatusOf(waits), ids, found, cancel);
        await ApartAsync(connection, $"quarantine where cleared_by like '%{Restating.Refused}%' and", EntryStatus.Refused, ids, found, cancel);
        await ApartAsync(connection, "parked where redriven_at is null and", EntryStatus.Parked, ids, found, cancel);
        return [.. sent.Select((s, i) => (found.GetValueOrDefault(ids[i]) ?? new Receipt { RecordId = ids[i], Status = EntryStatus.Unknown }) with { Id = s.Id, Source = s.Source })];
    }

    private static async Task ApartAsync(NpgsqlConnection connection, string from, EntryStatus status, Guid[] ids, Dictionary<Guid, Receipt> found, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand($"select id, content_hash, reason from trace.{from} id = any($1)", connection) { Parameters = { new() { Value = ids } } };
        await using var reader = await command.ExecuteReaderAsync(cancel);
        while (await reader.ReadAsync(cancel))
        {
            found.TryAdd(reader.GetGuid(0), new Receipt
            {
                RecordId = reader.GetGuid(0),
                ContentHash = reader.GetString(1),
                Status = status,
                Problem = Problems.Of(status == EntryStatus.Refused ? 403 : 202, status.ToString().ToLowerInvariant(), status == EntryStatus.Refused ? "Refused by the person it waited for; it does not count" : "Kept apart; it does not count", reader.GetString(2)),
            });
        }
    }
}
