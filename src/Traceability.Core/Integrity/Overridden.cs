using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;

namespace Traceability.Core.Integrity;

/// <summary>Overrides, and what was done at a hold that should not have been.</summary>
public static class Overridden
{
    public static IEnumerable<IntegrityNote> Of(IEnumerable<Record> records) =>
        records.Where(r => r.Fact is HoldOverridden).OrderBy(r => r.Position).Select(r =>
        {
            var over = (HoldOverridden)r.Fact!;
            return new IntegrityNote(over.Breach ? IntegrityKind.Breach : IntegrityKind.Override,
                $"The {Word(over.Hold)} hold of {over.Unit} was {(over.Breach ? "overridden where nobody may; it opens nothing" : "overridden")} by {r.Person ?? "nobody named"} with {over.SecondApprover}, over {over.OpenItems.Count} open items. Reason given: {over.Reason}",
                r.Person, r.OccurredAt.At, [r.Id], over.About);
        });

    /// <summary>Steps of a unit that were taken without a release that stood, and without the notice that was due.</summary>
    public static IEnumerable<IntegrityNote> Breaches(UnitFile file, Judgement judgement, DateTimeOffset from, DateTimeOffset until)
    {
        foreach (var hold in judgement.Holds)
        {
            foreach (var alarm in hold.Alarms.Where(a => a.Kind is AlarmKind.PassedWithoutRelease or AlarmKind.WithoutNotice))
            {
                if (file.Entries.FirstOrDefault(e => e.Source.Id == alarm.Record) is not { } step || step.At.At < from || step.At.At >= until) continue;
                yield return new(IntegrityKind.Breach, $"Unit {file.Unit.Id}: {alarm.Words}", step.Person, step.At.At, [step.Source.Id], file.Unit);
            }
        }
    }

    private static string Word(HoldKind kind) => kind == HoldKind.CloseUp ? "close-up" : kind.ToString().ToLowerInvariant();
}
