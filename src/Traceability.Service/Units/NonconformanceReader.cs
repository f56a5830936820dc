using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Units;

/// <summary>One nonconformance as it stands.</summary>
/// <param name="Awaits">Whose answer is awaited; null once it is closed.</param>
/// <param name="RepairBeforeApproval">A repair of it that began before its approval, in words; null when none did.</param>
public sealed record NonconformanceRow(
    string Id, IReadOnlyList<string> Units, NonconformanceClass Class, bool Structural, string Description, string RaisedBy, DateTimeOffset RaisedAt, Guid Record,
    DispositionKind? Disposition, string? Approval, string? Awaits, string? RepairBeforeApproval)
{
    public bool Closed => Awaits is null;

    /// <summary>From the facts that count, in order of time. Pure.</summary>
    public static IReadOnlyList<NonconformanceRow> Of(IReadOnlyList<Entry> entries)
    {
        var rows = new List<NonconformanceRow>();
        foreach (var same in entries.Where(e => e.Fact is NonconformanceRaised).GroupBy(e => ((NonconformanceRaised)e.Fact).Nonconformance, StringComparer.Ordinal))
        {
            var raised = same.First();
            var fact = (NonconformanceRaised)raised.Fact;
            var disposition = Last<NonconformanceDisposed>(entries, d => d.Nonconformance == fact.Nonconformance);
            var approvals = entries.Where(e => e.Fact is NonconformanceApproved a && a.Nonconformance == fact.Nonconformance).Select(e => (NonconformanceApproved)e.Fact).ToList();
            var closed = Last<NonconformanceClosed>(entries, c => c.Nonconformance == fact.Nonconformance) is not null;
            var repairs = entries.Where(e => e.Fact is UnitRepaired r && r.Nonconformance == fact.Nonconformance).ToList();
            var needsEngineer = fact.Structural && disposition?.Disposition is DispositionKind.Repair or DispositionKind.UseAsIs;
            var awaits = closed ? null
                : disposition is null ? "quality engineer: disposition"
                : needsEngineer && approvals.All(a => a.By != Approver.EngineerOfRecord) ? "engineer of record: letter"
                : disposition.Disposition == DispositionKind.Repair && repairs.Count == 0 ? "yard: repair"
                : "quality engineer: closing";
            // Without an approval of any kind a repair of a disposed matter began on the disposition alone, which suffices unless it is structural.
            DateTimeOffset? approved = approvals.Count > 0 ? approvals.Min(a => a.ApprovedAt) : null;
            var early = repairs.Select(r => (Entry: r, Fact: (UnitRepaired)r.Fact)).FirstOrDefault(r => approved is { } at ? r.Fact.BeganAt < at : fact.Structural || disposition is null);
            rows.Add(new(fact.Nonconformance, fact.Units, fact.Class, fact.Structural, fact.Description, raised.Person ?? "nobody named", raised.At.At, raised.Source.Id, disposition?.Disposition,
                approvals.Count > 0 ? string.Join("; ", approvals.Select(a => FormattableString.Invariant($"{a.Letter}, {a.ApprovedAt:yyyy-MM-dd}"))) : null, awaits,
                early.Fact is null ? null : FormattableString.Invariant($"The repair of {early.Fact.Unit} began {early.Fact.BeganAt:yyyy-MM-dd HH:mm zzz}, {(approved is { } then ? $"before the approval of {then:yyyy-MM-dd HH:mm zzz}" : "and no approval is recorded")}.")));
        }

        return [.. rows.OrderBy(r => r.Closed).ThenBy(r => r.RaisedAt).ThenBy(r => r.Id, StringComparer.Ordinal)];
    }

    private static T? Last<T>(IReadOnlyList<Entry> entries, Func<T, bool> which) where T : class, IFact => entries.Select(e => e.Fact as T).LastOrDefault(f => f is not null && which(f));
}

/// <summary>Reads the nonconformances of the plant from the records, now; of a view nothing.</summary>
public sealed class NonconformanceReader(NpgsqlDataSource source)
{
    // With their corrections and withdrawals, and the changes of those.
    private const string Sql = """
        with recursive found(position) as (
            select position from trace.record where type in ('nonconformance.raised.v1', 'nonconformance.disposed.v1', 'nonconformance.approved.v1', 'nonconformance.closed.v1', 'unit.repaired.v1')
            union
            select a.position from found f join trace.record r on r.position = f.position join trace.about a on a.subject = 'record:' || r.id::text
        )
        select r.position, r.bytes from found f join trace.record r on r.position = f.position order by r.position
        """;

    public async Task<IReadOnlyList<NonconformanceRow>> ReadAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand(Sql);
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var records = new List<Record>();
        while (await reader.ReadAsync(cancel)) records.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        return NonconformanceRow.Of(Assemble.Counted(records));
    }
}
