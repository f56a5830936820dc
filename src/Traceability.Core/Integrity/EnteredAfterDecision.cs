using Traceability.Core.Dossiers;
using Traceability.Core.Events;

namespace Traceability.Core.Integrity;

/// <summary>
/// A test or an inspection of a unit that had happened when a hold was released or overridden, and that was entered only then: the
/// decision was taken without it, or it was made to fit.
/// </summary>
public static class EnteredAfterDecision
{
    /// <param name="file">The unit's file.</param>
    /// <param name="from">Decisions from this moment on.</param>
    /// <param name="until">And before this one.</param>
    public static IEnumerable<IntegrityNote> Of(UnitFile file, DateTimeOffset from, DateTimeOffset until)
    {
        var tests = file.Entries.Where(e => IsTest(e.Fact)).Select(e => Entered.Of(e.Original, file.Time)).ToList();
        foreach (var decision in file.Entries.Where(e => e.Fact is IRelease or HoldOverridden && e.At.At >= from && e.At.At < until))
        {
            foreach (var test in tests.Where(t => t.Ends < decision.At.At && t.At > decision.At.At).OrderBy(t => t.Record.Position))
            {
                yield return new(IntegrityKind.AfterItsDecision,
                    FormattableString.Invariant($"{test.Type.Name} of {test.Fact.About.Id} happened {test.Ends:yyyy-MM-dd HH:mm zzz} and was entered {test.At:yyyy-MM-dd HH:mm}, after {FactCatalog.Of(decision.Fact).Name} of {file.Unit.Id} at {decision.At.At:HH:mm}."),
                    test.Person, test.At, [test.Record.Id, decision.Source.Id], file.Unit);
            }
        }
    }

    private static bool IsTest(IFact fact) =>
        fact is SampleTested or CylinderBroken or CoreBroken or CloseUpInspected or PrePourInspected or AsCastInspected or CureTemperatures or LoadOutInspected or InitialCureRecorded;
}
