using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Integrity;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;

namespace Traceability.Service.Decisions;

/// <summary>What a review of a period found.</summary>
/// <param name="Whole">False when there was more than can be looked at in one go; the remedy is a shorter period.</param>
public sealed record IntegrityPeriod(DateTimeOffset From, DateTimeOffset Until, long Position, int Records, int Units, bool Whole, IReadOnlyList<IntegrityNote> Notes);

/// <summary>Reviews the records that came in a period: read from the log each time, kept nowhere, part of no judgement and no packet.</summary>
public sealed class IntegrityReader(NpgsqlDataSource source, TimeProvider clock, PlantTime time)
{
    /// <summary>Our own choice: a page waits seconds for it.</summary>
    private const int MostRecords = 20_000, MostUnits = 300, MostChanges = 200, MostUnitsOfChange = 50;

    public async Task<IntegrityPeriod> ReadAsync(DateTimeOffset from, DateTimeOffset until, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        // One snapshot: the units are judged on the records that were read.
        await using var transaction = await connection.BeginTransactionAsync(System.Data.IsolationLevel.RepeatableRead, cancel);
        var records = await RecordsAsync(connection, from, until, cancel);
        var whole = records.Count <= MostRecords;
        if (!whole) records.RemoveRange(0, records.Count - MostRecords);
        var notes = new List<IntegrityNote>(IntegrityReview.Of(records, time));

        var units = records.Where(r => r.Fact is IRelease or HoldOverridden || IsStep(r.Fact)).SelectMany(UnitsOf).Distinct().Order().ToList();
        whole &= units.Count <= MostUnits;
        foreach (var unit in units.Take(MostUnits))
        {
            var file = Assemble.Unit(await DossierStore.LoadAsync(connection, time, unit, null, cancel));
            notes.AddRange(EnteredAfterDecision.Of(file, from, until));
            notes.AddRange(Overridden.Breaches(file, Judge.Unit(file, clock.GetUtcNow()), from, until));
        }

        var changes = records.Where(r => r.Fact is RecordCorrected or RecordWithdrawn).ToList();
        whole &= changes.Count <= MostChanges;
        foreach (var change in changes.TakeLast(MostChanges))
        {
            var turned = new List<Turned>();
            var touched = await AffectedUnits.AboveAsync(connection, [change.Position, .. await NamedAsync(connection, change, cancel)], MostUnitsOfChange + 1, cancel);
            whole &= touched.Count <= MostUnitsOfChange;
            foreach (var unit in touched.Take(MostUnitsOfChange)) turned.AddRange(Turned.Between(await JudgeAsync(connection, unit, change, change.Position - 1, cancel), await JudgeAsync(connection, unit, change, change.Position, cancel)));
            if (Turned.Note(change, turned) is { } note) notes.Add(note);
        }

        var position = records.Count == 0 ? 0 : records[^1].Position;
        return new(from, until, position, records.Count, Math.Min(units.Count, MostUnits), whole,
            [.. notes.OrderByDescending(n => n.At).ThenBy(n => n.Kind).ThenBy(n => n.Words, StringComparer.Ordinal)]);
    }

    private static bool IsStep(IFact? fact) => fact is PourPlaced or UnitStripped or UnitShipped or PrePourInspected or CageTied;

    private static IEnumerable<Subject> UnitsOf(Record record) => record.Links().Where(l => l.Kind == LinkKind.About && l.From.Kind == "unit").Select(l => l.From);

    // As judged when the change was made, so that time alone turns nothing.
    private async Task<Judgement> JudgeAsync(NpgsqlConnection connection, Subject unit, Record change, long position, CancellationToken cancel) =>
        Judge.Dossier(await DossierStore.LoadAsync(connection, time, unit, position, cancel), change.RecordedAt);

    private static async Task<IReadOnlyList<long>> NamedAsync(NpgsqlConnection connection, Record change, CancellationToken cancel)
    {
        var id = change.Fact is RecordCorrected c ? c.Record : ((RecordWithdrawn)change.Fact!).Record;
        await using var command = new NpgsqlCommand("select position from trace.record where id = $1", connection) { Parameters = { new() { Value = id } } };
        return await command.ExecuteScalarAsync(cancel) is long position ? [position] : [];
    }

    private static async Task<List<Record>> RecordsAsync(NpgsqlConnection connection, DateTimeOffset from, DateTimeOffset until, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("select position, bytes from trace.record where recorded_at >= $1 and recorded_at < $2 order by position desc limit $3", connection)
        { Parameters = { new() { Value = from.UtcDateTime }, new() { Value = until.UtcDateTime }, new() { Value = MostRecords + 1 } } };
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var records = new List<Record>();
        while (await reader.ReadAsync(cancel)) records.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        records.Reverse();
        return records;
    }
}
