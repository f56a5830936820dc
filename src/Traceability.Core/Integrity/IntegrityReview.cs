using Traceability.Core.Records;

namespace Traceability.Core.Integrity;

/// <summary>
/// What can be seen in the records of a period alone, without a unit being judged. Pure, and independent of the order in which they came.
/// Late entries, repeated readings and two places are signs, never findings: no judgement and no packet reads them.
/// </summary>
public static class IntegrityReview
{
    public static IReadOnlyList<IntegrityNote> Of(IReadOnlyList<Record> records, PlantTime time)
    {
        var entries = Entered.Of(records, time);
        return [.. LateBlocks.Of(entries).Concat(RepeatedReadings.Of(entries)).Concat(TwoPlaces.Of(entries)).Concat(Overridden.Of(records)).Concat(AuthorityChanged.Of(records))];
    }
}
