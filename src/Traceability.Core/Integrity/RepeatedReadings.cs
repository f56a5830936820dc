using Traceability.Core.Events;

namespace Traceability.Core.Integrity;

/// <summary>One person recorded the same set of readings for several subjects: no two pieces measure the same in everything.</summary>
internal static class RepeatedReadings
{
    // Our own choices: four readings agree by chance seldom, three times hardly ever.
    private const int LeastReadings = 4, LeastFacts = 3;

    public static IEnumerable<IntegrityNote> Of(IReadOnlyList<Entered> entries) =>
        from entry in entries
        // A batch computer weighs to its resolution and has no hand that copies.
        where entry.Person is not null && entry.Type.Role != Roles.BatchOperator
        let readings = entry.Readings()
        where readings.Count >= LeastReadings
        group entry by (Person: entry.Person!, entry.Type.Name, Readings: string.Join('\n', readings)) into same
        let about = same.DistinctBy(e => e.Fact.About).OrderBy(e => e.Record.Position).ToList()
        where about.Count >= LeastFacts
        orderby same.Key.Person, same.Key.Name, same.Key.Readings
        select new IntegrityNote(IntegrityKind.IdenticalReadings,
            $"{same.Key.Person} recorded the same {same.Key.Readings.Count(c => c == '\n') + 1} readings in {about.Count} facts of {same.Key.Name}: {string.Join(", ", about.Take(4).Select(e => e.Fact.About.Id))}{(about.Count > 4 ? " and others" : "")}.",
            same.Key.Person, about.Max(e => e.At), [.. about.Select(e => e.Record.Id)]);
}
