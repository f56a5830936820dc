using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>One sample that stands for the unit, with its acceptance set judged against the least that a single test may be.</summary>
internal sealed record AcceptanceTest(Entry<SampleTested> Sample, CylinderSet Set)
{
    public bool IsLow => Set.Verdict == Verdict.NotMet;
}

/// <summary>What the acceptance requirements share: which rule the contract chose, its figures, the tests of the unit.</summary>
internal static class AcceptanceTests
{
    public const string Age = "acceptance.age", Window = "cylinder.age-window", Small = "acceptance.cylinders.4x8", Large = "acceptance.cylinders.6x12",
        UpTo = "acceptance.single.up-to", Under = "acceptance.single.under", Share = "acceptance.single.share",
        MostBelow = "acceptance.lot.below", LeastShare = "acceptance.lot.least";

    public static readonly IReadOnlyList<string> SeriesLimits = [UpTo, Under, Share];

    public static readonly IReadOnlyList<string> LotLimits = [MostBelow, LeastShare];

    public static readonly IReadOnlyList<string> TestLimits = [Age, Window, Small, Large, .. CylinderSet.Limits];

    /// <summary>Whether the contract accepts by the lot of a product standard, at any age up to the stated one.</summary>
    public static bool ByLot(Matter matter) => matter.Edition("acceptance-rule") == "product-standard";

    /// <summary>
    /// Age of acceptance of a sample, days, with its tolerance either way, hours; both limits are there. It is the mix's own
    /// where the approval in force on the day of the batch states one: an approval since moves no test that was due.
    /// </summary>
    public static (decimal Days, decimal WindowHours) AgeOf(Matter matter, Entry<SampleTested> sample)
    {
        var mix = matter.File.Of<BatchTicketed>().LastOrDefault(b => b.Fact.About == sample.Fact.Batch.Subject)?.Fact.Mix ?? matter.File.Scheduled?.Fact.Mix;
        var own = Evidence.MixInForce(matter, mix, sample.Fact.Batch.Date)?.Fact.AcceptanceAgeDays;
        return TestRule.AgeAndWindow(matter.Limit(Age)!.Value.Value, matter.Limit(Window)!.Value.Value, own);
    }

    public static SeriesCriteria? Criteria(Matter matter) => matter.Limit(UpTo) is { } upTo && matter.Limit(Under) is { } under && matter.Limit(Share) is { } share
        ? SeriesCriteria.Aci318 with { UpToPsi = upTo.Value.Value, UnderPsi = under.Value.Value, UnderShare = share.Value.Value / 100 } : null;

    /// <summary>Samples that stand for the unit and have acceptance cylinders.</summary>
    public static IEnumerable<Entry<SampleTested>> Samples(Matter matter) =>
        matter.File.RepresentingSamples.Where(s => s.Fact.Cylinders.Any(c => c.Purpose == CylinderPurpose.Acceptance));

    /// <summary>The first key that is asked and absent; null when all are there.</summary>
    public static string? Missing(Matter matter) =>
        (ByLot(matter) ? LotLimits : SeriesLimits).Concat([Age, Window, Small, Large]).FirstOrDefault(k => matter.Limit(k) is null);

    /// <summary>The acceptance set of every sample against a strength; all limits are there.</summary>
    public static IEnumerable<AcceptanceTest> Judge(Matter matter, decimal requiredPsi, bool anyAge)
    {
        foreach (var sample in Samples(matter))
        {
            var large = sample.Fact.Cylinders.Any(c => c is { Purpose: CylinderPurpose.Acceptance, Size: "6x12" });
            var demand = new SetDemand(requiredPsi, CylinderSet.Fewest(matter, large ? Large : Small)!.Value, false, null, "");
            if (!anyAge)
            {
                var (days, window) = AgeOf(matter, sample);
                demand = demand with { AgeDays = days, AgeWindowHours = window, StandardCured = true };
            }

            yield return new AcceptanceTest(sample, CylinderSet.Judge(matter, sample, CylinderPurpose.Acceptance, demand));
        }
    }
}
