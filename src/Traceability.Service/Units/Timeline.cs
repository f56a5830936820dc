using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Units;

/// <summary>One record of a unit's story, and whether it counts.</summary>
/// <param name="Standing">"counts", "counts, corrected", "replaced", "withdrawn", "same again", "conflict", "cannot be read".</param>
public sealed record TimelineRow(Record Record, Subject About, string Standing, bool Counts, string Why);

/// <summary>Every record that bears on a unit, corrections, conflicts and repeats included, by the time it happened. Pure.</summary>
public static class Timeline
{
    private static readonly HashSet<string> Backgrounds = ["person", "instrument", "drawing", "mix", "contract", "profile"];

    public static IReadOnlyList<TimelineRow> Of(Dossier dossier, UnitFile file)
    {
        var rows = file.Entries.Select(e => new TimelineRow(e.Source, e.Fact.About, e.Version > 1 ? $"counts, correction {e.Version - 1}" : "counts", true, e.Source.Fact is RecordCorrected c ? c.Reason : ""))
            .Concat(file.SetAside.Select(s => new TimelineRow(s.Record, AboutOf(s.Record), s.Kind switch
            {
                SetAsideKind.Replaced => "replaced",
                SetAsideKind.Withdrawn => "withdrawn",
                SetAsideKind.SameFactAgain => "same again",
                SetAsideKind.Conflict => "conflict",
                _ => "cannot be read",
            }, false, s.Reason))).DistinctBy(r => r.Record.Position).ToList();
        var shown = rows.Select(r => r.Record.Id).ToHashSet();
        // A withdrawal that took effect neither counts nor is set aside: it is shown beside what it took away.
        rows.AddRange(dossier.Records.Where(r => r.Fact is RecordWithdrawn w && shown.Contains(w.Record) && !shown.Contains(r.Id))
            .Select(r => new TimelineRow(r, r.Fact!.About, "took effect", true, ((RecordWithdrawn)r.Fact!).Reason)));
        return [.. rows.OrderBy(r => r.Record.OccurredAt.At).ThenBy(r => r.Record.Position)];
    }

    /// <summary>Certificates, calibrations, drawings, mixes and rules: what stands behind the unit rather than happened to it.</summary>
    public static bool IsBackground(TimelineRow row) => Backgrounds.Contains(row.About.Kind);

    private static Subject AboutOf(Record record) => record.Fact?.About ?? Subject.Record(record.Id);
}
