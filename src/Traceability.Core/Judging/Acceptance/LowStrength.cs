using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>
/// A single test too low has the unit investigated: cores of this unit for that test, their mean and each of them as a share
/// of the design strength, kept sealed for the days asked. Needs: the test, cores taken and broken, instrument calibrated. The
/// engineer of record decides on what the cores do not clear.
/// </summary>
public sealed class LowStrength : IRequirement
{
    private const string Fewest = "core.cores", Mean = "core.mean", Single = "core.single", LeastDays = "core.days.least", MostDays = "core.days.most";

    internal static readonly IReadOnlyList<string> CoreLimits = [Fewest, Mean, Single, LeastDays, MostDays, "cylinder.machine-error"];

    private static readonly Citation Source = new("ACI 318", SourceMark.Published, "318-19", "26.12.6");

    public string Id => "acceptance.low-strength";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Investigation of low tests";
    public IReadOnlyList<string> Limits => [.. AcceptanceTests.SeriesLimits, .. AcceptanceTests.TestLimits, .. CoreLimits];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Drawing is not { } drawing || AcceptanceTests.ByLot(matter) || AcceptanceTests.Missing(matter) is not null)
        {
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, AcceptanceTests.ByLot(matter) ? "The product standard judges the lot; cores follow its own clause." : "No single test can be judged yet.", Source);
            yield break;
        }

        var design = drawing.Fact.DesignStrengthPsi.Value;
        var low = AcceptanceTests.Judge(matter, AcceptanceTests.Criteria(matter)!.LeastSingle(design), anyAge: false).Where(t => t.IsLow).ToList();
        if (low.Count == 0) yield return Matter.Finding(this, unit, Verdict.NotApplicable, "No single test that stands for this unit is too low.", Source) with { Used = [drawing.Id] };
        foreach (var test in low)
            yield return Cores(matter, test.Sample, design) with { Used = [.. Cores(matter, test.Sample, design).Used, .. test.Set.Used, drawing.Id] };
    }

    /// <summary>The cores of this unit for one low test.</summary>
    internal static Finding Cores(Matter matter, Entry<SampleTested> sample, decimal design)
    {
        var cores = Cores(new LowStrength(), matter, $"{matter.File.Unit.Key} cores for {sample.Fact.Sample}", Fewest, c => c.ForSample == sample.Fact.Sample, $"for the low test of {sample.Fact.Sample}", design);
        return cores with { Used = [sample.Id, .. cores.Used] };
    }

    /// <summary>Cores of this unit by the limits of a mean and of each, at least as many as a limit asks.</summary>
    /// <param name="count">Key of the limit that says how many.</param>
    /// <param name="which">Which cores of the unit count.</param>
    /// <param name="of">What they are for, in words.</param>
    internal static Finding Cores(IRequirement requirement, Matter matter, string subject, string count, Func<CoreTaken, bool> which, string of, decimal design)
    {
        if (CoreLimits.Append(count).FirstOrDefault(k => matter.Limit(k) is null) is { } absent) return matter.NoLimit(requirement, subject, absent);
        var (mean, single, fewest) = (matter.Limit(Mean)!, matter.Limit(Single)!, (int)Math.Ceiling(Math.Clamp(matter.Limit(count)!.Value.Value, 1, 100)));
        var taken = matter.File.Of<CoreTaken>().Where(c => which(c.Fact) && c.Fact.Unit == matter.File.Unit.Id).ToList();
        var broken = taken.SelectMany(t => matter.File.Of<CoreBroken>().Where(b => b.Fact.Core == t.Fact.Core)).Select(b => (Core: b, Psi: Psi(b.Fact, matter), Doubts: Doubts(matter, b))).ToList();
        // A low core is not dropped for a fault of its test.
        var counted = broken.FindAll(b => b.Psi is { } psi && (b.Doubts.Count == 0 || psi * 100 < design * single.Value.Value));
        var reading = matter.Rounding == RoundingRule.Absolute ? ShareReading.Strict : ShareReading.ImpliedTolerance;
        var result = StrengthAcceptance.CoreTest([.. counted.Select(c => c.Psi!.Value)], design, mean.Value.Value, single.Value.Value, reading, fewest);
        var lowNow = counted.Exists(c => !StrengthAcceptance.Reaches(c.Psi!.Value / design * 100, single.Value.Value, reading));
        var verdict = result is { Met: true } ? Verdict.Met : result is not null || lowNow ? Verdict.NotMet : Verdict.Missing;
        var observed = counted.Count == 0 ? "" : $"{string.Join(", ", counted.Select(c => Matter.Text(c.Psi!.Value)))} psi"
            + (result is null ? "" : $", mean {Matter.Text(decimal.Round(result.MeanPct, 1))} %, lowest {Matter.Text(decimal.Round(result.LeastPct, 1))} % of f'c");
        return Matter.Finding(requirement, subject, verdict, verdict switch
        {
            Verdict.Met => "The concrete is adequate by its cores.",
            Verdict.NotMet => "The cores do not clear the concrete.",
            _ => $"{counted.Count} of {fewest} cores of this unit {of}.",
        }, mean.Source) with
        {
            Limit = $"{mean.Printed}; {single.Printed}",
            LimitConfirmed = mean.ConfirmedBy is not null && single.ConfirmedBy is not null,
            Observed = observed,
            Rounding = reading == ShareReading.Strict ? "compared as calculated" : "compared to whole percent",
            Clear = verdict == Verdict.Met ? "" : "The quality engineer has cores taken and breaks them; what they do not clear the engineer of record decides.",
            Used = [.. taken.Select(t => t.Id), .. counted.Select(c => c.Core.Id)],
            SetAside = [.. broken.Where(b => !counted.Contains(b)).Select(b => new UnusedEvidence(b.Core.Id, $"core {b.Core.Fact.Core}: {string.Join("; ", b.Doubts)}"))],
        };
    }

    private static decimal? Psi(CoreBroken core, Matter matter) => Strength.MeanDiameterIn(core.Diameter1In.Value, core.Diameter2In.Value, matter.Rounding) > 0
        ? Strength.Psi(core.LoadLbf.Value, core.Diameter1In.Value, core.Diameter2In.Value, core.LengthIn.Value, matter.Rounding) : null;

    private static List<string> Doubts(Matter matter, Entry<CoreBroken> core)
    {
        var doubts = new List<string>();
        if (Psi(core.Fact, matter) is null) doubts.Add("shorter than its diameter, no strength can be stated");
        if (matter.InCalibration(core.Fact.Machine, core.At.At, matter.Limit("cylinder.machine-error")!.Value.Value) is { Valid: false } machine) doubts.Add(machine.Words);
        if (core.Fact.ConditionedDays is not { } days) doubts.Add("its conditioning is not recorded");
        else if (days.Value < matter.Limit(LeastDays)!.Value.Value || days.Value > matter.Limit(MostDays)!.Value.Value) doubts.Add($"conditioned for {days.Text} days");
        return doubts;
    }
}
