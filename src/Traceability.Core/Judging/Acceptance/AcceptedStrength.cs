using Traceability.Core.Concrete;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>
/// Strength by the rule the contract chose. By ACI 318 every test that stands for the unit reaches the least a single test may
/// be, or the cores of its investigation speak for the concrete. By a product standard the unit's tests of any age up to the
/// stated one: their mean, how many lie below, and none too low. Needs: drawing, sample tested, cylinders broken, person
/// certified, instrument calibrated; after a low test cores.
/// </summary>
public sealed class AcceptedStrength : IRequirement
{
    private const string Clear = "The laboratory breaks the acceptance cylinders at their age; after a low test the quality engineer has the unit investigated.";

    private static readonly Citation Source = new("ACI 318", SourceMark.Published, "318-19", "26.12.3.1");

    public string Id => "acceptance.strength";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Strength by the rule of acceptance";
    public IReadOnlyList<string> Limits => [.. AcceptanceTests.SeriesLimits, .. AcceptanceTests.LotLimits, .. AcceptanceTests.TestLimits, .. LowStrength.CoreLimits];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Source);
            yield break;
        }

        if (!AcceptanceTests.Samples(matter).Any())
        {
            yield return Evidence.Absent<SampleTested>(this, matter, unit, "No acceptance cylinders that stand for this unit are recorded.", "The laboratory records the sample with its cylinders.", Source) with { Used = [drawing.Id] };
            yield break;
        }

        if (AcceptanceTests.Missing(matter) is { } key)
        {
            yield return matter.NoLimit(this, unit, key);
            yield break;
        }

        var design = drawing.Fact.DesignStrengthPsi.Value;
        if (AcceptanceTests.ByLot(matter))
        {
            yield return Lot(matter, unit, drawing, design);
            yield break;
        }

        var least = AcceptanceTests.Criteria(matter)!.LeastSingle(design);
        foreach (var test in AcceptanceTests.Judge(matter, least, anyAge: false))
        {
            var limit = matter.Limit(design <= matter.Limit(AcceptanceTests.UpTo)!.Value.Value ? AcceptanceTests.Under : AcceptanceTests.Share)!;
            var finding = test.Set.Finding(this, matter, $"{test.Sample.Fact.About.Key} for acceptance", drawing, Reading.Of(least), Clear) with { Source = limit.Source, LimitConfirmed = limit.ConfirmedBy is not null };
            if (test.IsLow && LowStrength.Cores(matter, test.Sample, design) is { Verdict: Verdict.Met } cores)
                finding = finding with { Verdict = Verdict.Met, Reason = $"{finding.Reason} The cores of its investigation speak for the concrete: {cores.Observed}.", Clear = "", Used = [.. finding.Used, .. cores.Used] };
            yield return finding with { Limit = $"no test below {Matter.Text(least)} psi: {limit.Printed}" };
        }
    }

    private Finding Lot(Matter matter, string unit, Traceability.Core.Dossiers.Entry<DrawingApproved> drawing, decimal design)
    {
        var (below, share) = (matter.Limit(AcceptanceTests.MostBelow)!, matter.Limit(AcceptanceTests.LeastShare)!);
        var tests = AcceptanceTests.Judge(matter, design, anyAge: true).ToList();
        var means = tests.Where(t => t.Set.Verdict is Verdict.Met or Verdict.NotMet).Select(t => t.Set.MeanPsi!.Value).ToList();
        var result = StrengthAcceptance.Lot(means, design, below.Value.Value, share.Value.Value);
        var open = tests.Find(t => t.Set.Verdict is not (Verdict.Met or Verdict.NotMet));
        // A test that is still to come may lower the mean, never raise one that is too low.
        var verdict = result is { Met: false } ? Verdict.NotMet : open is null ? Verdict.Met : open.Set.Verdict;
        return Matter.Finding(this, unit, verdict,
            verdict == open?.Set.Verdict ? $"{open.Sample.Fact.About.Id}: {open.Set.Reason}" : $"Mean of {means.Count} tests {Matter.Text(decimal.Round(result!.Mean, 1))} psi, lowest {Matter.Text(result.Least)} psi, {result.Below} below {Matter.Text(design)} psi.", share.Source) with
        {
            Limit = $"mean at least {Matter.Text(design)} psi; {below.Printed}; {share.Printed}",
            LimitConfirmed = below.ConfirmedBy is not null && share.ConfirmedBy is not null,
            Observed = string.Join(", ", means.Select(Matter.Text)) + (means.Count > 0 ? " psi" : ""),
            Rounding = matter.StepText("each test", Strength.ReportStepPsi, "psi"),
            Clear = verdict == Verdict.Met ? "" : Clear,
            Due = verdict == Verdict.Pending ? open!.Set.Due : null,
            Used = [drawing.Id, .. tests.SelectMany(t => t.Set.Used)],
            SetAside = [.. tests.SelectMany(t => t.Set.SetAside)],
        };
    }
}
