using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>The mean of one sample's cylinders of one purpose, younger than the age of acceptance.</summary>
/// <param name="AgeHours">Mean age, hours.</param>
/// <param name="Psi">Mean strength, psi, to 10 psi by the rule.</param>
public sealed record EarlyBreak(CylinderPurpose Purpose, decimal AgeHours, decimal Psi);

/// <summary>One sample of a mix with what its cylinders said.</summary>
/// <param name="Psi">The strength test at the age of acceptance, psi: null while there are too few cylinders at that age.</param>
/// <param name="Cylinders">Cylinders broken at that age.</param>
/// <param name="RangePsi">Their range, psi; null below two.</param>
/// <param name="Records">The sample and the breaks the test rests on.</param>
public sealed record SampleStrength(string Sample, Subject Batch, DateTimeOffset SampledAt, DateTimeOffset MouldedAt, decimal? Psi, int Cylinders, decimal? RangePsi, IReadOnlyList<EarlyBreak> Early, IReadOnlyList<Guid> Records);

/// <summary>What makes breaks a strength test.</summary>
/// <param name="AgeDays">Age of acceptance, days.</param>
/// <param name="WindowHours">Permissible tolerance either way, hours.</param>
/// <param name="Small">Fewest 4 x 8 in cylinders.</param>
/// <param name="Large">Fewest 6 x 12 in cylinders.</param>
/// <param name="DiametersApartPct">Greatest difference of two diameters, percent; a break above it gives no strength.</param>
public sealed record TestRule(decimal AgeDays, decimal WindowHours, int Small, int Large, decimal DiametersApartPct, RoundingRule Rounding)
{
    /// <summary>
    /// Strength, psi, below which a break of a cylinder that was not standard-cured counts all the same, because a low result is
    /// not dropped for a fault of its test; from it on such a break is no test for acceptance. 0 drops them all.
    /// </summary>
    public decimal LowPsi { get; init; }

    /// <summary>Age, days, with its tolerance, hours: the mix's own age with the method's tolerance where it is another than the profile's.</summary>
    /// <param name="ownDays">Age that the approval of the mix states, days, above 0; null for none.</param>
    public static (decimal Days, decimal WindowHours) AgeAndWindow(decimal days, decimal windowHours, decimal? ownDays) =>
        ownDays is { } own && own != days ? (own, TestAge.ToleranceHours(own * 24)) : (days, windowHours);

    /// <summary>The rule at the age of a mix, days; at its own where the mix states none.</summary>
    public TestRule At(decimal? ownDays)
    {
        var (days, window) = AgeAndWindow(AgeDays, WindowHours, ownDays);
        return this with { AgeDays = days, WindowHours = window };
    }

    /// <summary>As a profile has it; null when it lacks one of the limits.</summary>
    public static TestRule? Of(IReadOnlyDictionary<string, Limit> limits, RoundingRule rounding)
    {
        decimal? Value(string key) => limits.TryGetValue(key, out var limit) ? limit.Value.Value : null;
        int? Count(string key) => Value(key) is { } value ? (int)Math.Ceiling(Math.Clamp(value, 1, 100)) : null;
        return Value("acceptance.age") is { } age && Value("cylinder.age-window") is { } window && Count("acceptance.cylinders.4x8") is { } small
            && Count("acceptance.cylinders.6x12") is { } large && Value("cylinder.diameter-difference") is { } apart ? new TestRule(age, window, small, large, apart, rounding) : null;
    }
}

/// <summary>The strength tests of a mix in order of sampling, from the records of its samples and their breaks.</summary>
public static class StrengthSeries
{
    /// <summary>Every sample, oldest first, with its test where it has one and its younger breaks. Does not depend on the order of the entries.</summary>
    public static IReadOnlyList<SampleStrength> Of(IEnumerable<Entry> entries, TestRule rule) => Of(entries, _ => rule);

    /// <summary>As <see cref="Of(IEnumerable{Entry}, TestRule)"/>, each sample by a rule of its own.</summary>
    public static IReadOnlyList<SampleStrength> Of(IEnumerable<Entry> entries, Func<Entry<SampleTested>, TestRule> rule)
    {
        var all = entries.ToList();
        var breaks = all.Where(e => e.Fact is CylinderBroken).Select(e => new Entry<CylinderBroken>((CylinderBroken)e.Fact, e)).ToLookup(b => b.Fact.Sample);
        return [.. all.Where(e => e.Fact is SampleTested).Select(e => new Entry<SampleTested>((SampleTested)e.Fact, e)).Select(s => Sample(s, breaks, rule(s)))
            .OrderBy(s => s.SampledAt).ThenBy(s => s.Sample, StringComparer.Ordinal)];
    }

    private static SampleStrength Sample(Entry<SampleTested> sample, ILookup<string, Entry<CylinderBroken>> breaks, TestRule rule)
    {
        var moulded = sample.Clocked(sample.Fact.MouldedAt).At;
        var broken = (from b in breaks[sample.Fact.Sample]
                      let cylinder = sample.Fact.Cylinders.FirstOrDefault(c => c.Cylinder == b.Fact.Cylinder)
                      where cylinder is not null
                      let psi = Psi(b.Fact, rule)
                      where psi is not null
                      select (Break: b, Cylinder: cylinder, Psi: psi.Value, Age: TestAge.Hours(moulded, b.At.At))).ToList();
        var atAge = broken.Where(b => b.Cylinder.Purpose == CylinderPurpose.Acceptance && Math.Abs(b.Age - rule.AgeDays * 24) <= rule.WindowHours
            && (b.Cylinder.Curing == CuringPlace.Standard || b.Psi < rule.LowPsi)).ToList();
        var enough = atAge.Count > 0 && atAge.Count >= (atAge.TrueForAll(b => b.Cylinder.Size == "6x12") ? rule.Large : rule.Small);
        var early = broken.Where(b => b.Age < rule.AgeDays * 24 - rule.WindowHours && b.Age > 0).GroupBy(b => b.Cylinder.Purpose).OrderBy(g => g.Key)
            .Select(g => new EarlyBreak(g.Key, g.Average(b => b.Age), Strength.MeanPsi([.. g.Select(b => b.Psi)], rule.Rounding)));
        return new SampleStrength(sample.Fact.Sample, sample.Fact.Batch.Subject, sample.Clocked(sample.Fact.SampledAt).At, moulded,
            enough ? Strength.MeanPsi([.. atAge.Select(b => b.Psi)], rule.Rounding) : null, atAge.Count,
            atAge.Count > 1 ? atAge.Max(b => b.Psi) - atAge.Min(b => b.Psi) : null, [.. early], [sample.Id, .. atAge.Select(b => b.Break.Id)]);
    }

    private static decimal? Psi(CylinderBroken fact, TestRule rule) =>
        Strength.DiameterDifferencePct(fact.Diameter1In.Value, fact.Diameter2In.Value) <= rule.DiametersApartPct
        && Strength.MeanDiameterIn(fact.Diameter1In.Value, fact.Diameter2In.Value, rule.Rounding) > 0
            ? Strength.Psi(fact.LoadLbf.Value, fact.Diameter1In.Value, fact.Diameter2In.Value, fact.LengthIn.Value, rule.Rounding) : null;
}
