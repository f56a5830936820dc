using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>
/// The unit is represented by a valid test: a sample of its concrete, or of the sampling lot it belongs to, with a certified
/// tester, instruments in calibration and acceptance cylinders; or its lot's sample was left out by permission. Needs: sample
/// tested, sampling lot where lots are defined.
/// </summary>
public sealed class RepresentedUnit : IRequirement
{
    private static readonly Citation Source = new("ACI 318", SourceMark.Published, "318-08", "frequency of testing");

    public string Id => "acceptance.represented";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Represented by a valid test";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        var samples = AcceptanceTests.Samples(matter).Select(s => (Sample: s, Doubts: Evidence.Doubts(matter, s))).ToList();
        var valid = samples.Where(s => s.Doubts.Count == 0).ToList();
        var permitted = matter.File.Of<SamplingLotDefined>().Where(l => l.Fact.Units.Contains(matter.File.Unit.Id) && l.Fact.SkippedByPermission is not null).ToList();
        if (valid.Count == 0 && samples.Count == 0 && permitted.Count > 0)
        {
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, $"The sample of lot {permitted[^1].Fact.SamplingLot} was left out by permission: {permitted[^1].Fact.SkippedByPermission}.", Source) with { Used = [.. permitted.Select(p => p.Id)] };
            yield break;
        }

        if (samples.Count == 0)
        {
            yield return Evidence.Absent<SampleTested>(this, matter, unit, "No sample with acceptance cylinders stands for this unit.", "The laboratory records the sample; once the concrete has set the quality engineer decides what stands for it.", Source);
            yield break;
        }

        yield return Matter.Finding(this, unit, valid.Count > 0 ? Verdict.Met : Verdict.Missing,
            valid.Count > 0 ? $"Represented by sample {string.Join(", ", valid.Select(s => s.Sample.Fact.Sample))}." : $"No valid sample: {string.Join("; ", samples.SelectMany(s => s.Doubts).Distinct())}.", Source) with
        {
            Observed = $"{valid.Count} valid of {samples.Count}",
            Clear = valid.Count > 0 ? "" : "The quality engineer reads in the certificate or calibration, or decides what stands for the unit.",
            Used = [.. valid.Select(s => s.Sample.Id)],
            SetAside = [.. samples.Where(s => s.Doubts.Count > 0).Select(s => new UnusedEvidence(s.Sample.Id, string.Join("; ", s.Doubts)))],
        };
    }
}
