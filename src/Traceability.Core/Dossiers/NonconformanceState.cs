using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>What a nonconformance waits for.</summary>
public enum Awaited
{
    /// <summary>The quality engineer says what becomes of it.</summary>
    Disposition,
    /// <summary>The engineer of record's letter, or the agency's: it is structural or major.</summary>
    Letter,
    Repair,
    Closing,
    Nothing,
}

/// <summary>One nonconformance of a unit, as its records say. Pure.</summary>
/// <param name="RaisedAt">When it was first raised.</param>
/// <param name="RepairTooEarly">A repair for it began before what it needs was there, or the clocks cannot tell.</param>
public sealed record NonconformanceState(
    string Id, DateTimeOffset RaisedAt, NonconformanceClass Class, bool Structural, string Description, DispositionKind? Disposition, Awaited Awaited, bool RepairTooEarly)
{
    /// <summary>The unit's nonconformances, oldest first.</summary>
    public static IReadOnlyList<NonconformanceState> Of(UnitFile file) =>
    [
        .. file.Of<NonconformanceRaised>().Where(r => r.Fact.Units.Any(u => Subject.Unit(u) == file.Unit)).GroupBy(r => r.Fact.About)
            .Select(g => Of(file, g.Key, [.. g])).OrderBy(n => n.RaisedAt).ThenBy(n => n.Id, StringComparer.Ordinal),
    ];

    private static NonconformanceState Of(UnitFile file, Subject about, List<Entry<NonconformanceRaised>> raised)
    {
        var first = raised[0];
        var needsEngineer = raised.Exists(r => r.Fact.NeedsEngineer());
        var disposed = file.Of<NonconformanceDisposed>().LastOrDefault(d => d.Fact.About == about);
        var kept = disposed?.Fact.Disposition is DispositionKind.UseAsIs or DispositionKind.Repair;
        // The letter that a structural or major matter needs; else the disposition itself allows the repair.
        var letter = file.Of<NonconformanceApproved>().Where(a => a.Fact.About == about && a.Fact.By != Approver.QualityEngineer)
            .Select(a => (Moment?)a.Clocked(a.Fact.ApprovedAt)).OrderBy(a => a!.Value.At).FirstOrDefault();
        var allowed = needsEngineer ? letter : disposed?.At;
        var repairs = file.Of<UnitRepaired>().Where(r => r.Fact.Nonconformance == first.Fact.Nonconformance).ToList();
        var closed = file.Of<NonconformanceClosed>().Any(c => c.Fact.About == about);
        var awaited = closed ? Awaited.Nothing
            : disposed is null ? Awaited.Disposition
            : needsEngineer && kept && letter is null ? Awaited.Letter
            : disposed.Fact.Disposition is DispositionKind.Repair or DispositionKind.Rework && repairs.Count == 0 ? Awaited.Repair
            : Awaited.Closing;
        return new(first.Fact.Nonconformance, first.At.At, raised.Max(r => r.Fact.Class), raised.Exists(r => r.Fact.Structural), first.Fact.Description, disposed?.Fact.Disposition, awaited,
            repairs.Exists(r => allowed is not { } from || from.Compare(r.Clocked(r.Fact.BeganAt)) != TimeOrder.Before));
    }
}
