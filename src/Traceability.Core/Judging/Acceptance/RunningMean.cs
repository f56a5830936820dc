using Traceability.Core.Concrete;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>
/// Every mean of tests in a row of the mix that one of the unit's tests is in reaches the design strength. A low mean asks for
/// a better mix, not for an investigation of the unit. Needs: mix, the series of its tests around the unit's. Met stays
/// provisional while later tests can still come into a mean.
/// </summary>
public sealed class RunningMean : IRequirement
{
    private const string Running = "acceptance.running";

    private static readonly Citation Source = new("ACI 318", SourceMark.Published, "318-19", "26.12.3.1(a)");

    public string Id => "acceptance.running-mean";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Mean of tests in a row";
    public IReadOnlyList<string> Limits => [Running, .. AcceptanceTests.SeriesLimits, .. AcceptanceTests.TestLimits];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (AcceptanceTests.ByLot(matter))
        {
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, "The product standard judges the unit's own tests.", Source);
            yield break;
        }

        var missing = new[] { Running, AcceptanceTests.UpTo, AcceptanceTests.Under, AcceptanceTests.Share, AcceptanceTests.Age, AcceptanceTests.Window, AcceptanceTests.Small, AcceptanceTests.Large, "cylinder.diameter-difference" }.FirstOrDefault(k => matter.Limit(k) is null);
        if (missing is not null)
        {
            yield return matter.NoLimit(this, unit, missing);
            yield break;
        }

        // The design strength that was in force when the unit was poured.
        if (((Evidence.PourDay(matter.File) is { } day ? Evidence.MixInForce(matter, matter.File.Scheduled?.Fact.Mix, day) : null) ?? matter.File.Mix) is not { } mix)
        {
            yield return Matter.Finding(this, unit, Verdict.Missing, "The approval of the unit's mix is not recorded.", Source) with { Clear = "The quality engineer records the approval of the mix.", SetAside = matter.Unused<MixApproved>() };
            yield break;
        }

        var limit = matter.Limit(Running)!;
        var tests = (int)Math.Clamp(Math.Ceiling(limit.Value.Value), 1, 100);
        var design = mix.Fact.DesignStrengthPsi;
        var rule = new TestRule(matter.Limit(AcceptanceTests.Age)!.Value.Value, matter.Limit(AcceptanceTests.Window)!.Value.Value, CylinderSet.Fewest(matter, AcceptanceTests.Small)!.Value,
            CylinderSet.Fewest(matter, AcceptanceTests.Large)!.Value, matter.Limit("cylinder.diameter-difference")!.Value.Value, matter.Rounding) { LowPsi = design.Value };
        var series = StrengthSeries.Of(matter.File.Series, s => rule.At(AcceptanceTests.AgeOf(matter, s).Days)).Where(s => s.Psi is not null).ToList();
        var points = StrengthAcceptance.Series([.. series.Select(s => s.Psi!.Value)], design.Value, AcceptanceTests.Criteria(matter)! with { Running = tests });
        var own = matter.File.RepresentingSamples.Select(s => s.Fact.Sample).ToHashSet(StringComparer.Ordinal);
        // A mean that ends here holds a test of the unit when one of its last tests is the unit's.
        var mine = points.Select((p, i) => (Point: p, At: i)).Where(x => x.Point.Running is not null && Enumerable.Range(x.At - tests + 1, tests).Any(k => own.Contains(series[k].Sample))).ToList();
        if (mine.Count == 0)
        {
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, $"Fewer than {tests} tests in a row are among this unit's records; the whole series of mix {mix.Fact.Mix} is the mix's matter and is kept by the plant.", limit.Source) with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null, Used = [mix.Id, matter.Profile!.Id] };
            yield break;
        }

        var low = mine.FindAll(x => x.Point.MeanLow);
        var last = series.FindLastIndex(s => own.Contains(s.Sample));
        var verdict = low.Count > 0 ? Verdict.NotMet : series.Count - 1 - last < tests - 1 ? Verdict.Provisional : Verdict.Met;
        var used = mine.SelectMany(x => Enumerable.Range(x.At - tests + 1, tests)).Distinct().SelectMany(k => series[k].Records);
        yield return Matter.Finding(this, unit, verdict,
            low.Count > 0 ? $"{low.Count} of {mine.Count} means of {tests} with a test of this unit are below {design.Text} psi: the mix has to be raised; the unit is not investigated for it."
                : verdict == Verdict.Provisional ? "Every mean so far reaches the design strength; later tests of the mix are still to come." : "Every mean with a test of this unit reaches the design strength.", limit.Source) with
        {
            Limit = $"{limit.Printed}: at least {design.Text} psi",
            LimitConfirmed = limit.ConfirmedBy is not null,
            Observed = string.Join(", ", mine.Select(x => Matter.Text(decimal.Round(x.Point.Running!.Value, 1)))) + " psi",
            Rounding = "compared as calculated",
            Clear = low.Count > 0 ? "The quality engineer takes steps to raise the average of the mix and tells the agency." : "",
            Used = [mix.Id, matter.Profile!.Id, .. used],
        };
    }
}
