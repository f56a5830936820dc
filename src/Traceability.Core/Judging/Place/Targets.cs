using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>The targets of a sample: those of the mix its batch's ticket names, else of the mix the unit is scheduled with.</summary>
internal static class Targets
{
    public static Entry<MixApproved>? MixOf(Matter matter, Entry<SampleTested> sample)
    {
        var mix = matter.File.Batches.FirstOrDefault(b => b.Fact.About == sample.Fact.Batch.Subject)?.Fact.Mix ?? matter.File.Scheduled?.Fact.Mix;
        return Evidence.MixInForce(matter, mix, Matter.DayOf(sample.Fact.SampledAt));
    }

    public static Finding NoMix(IRequirement requirement, Matter matter, string subject, Entry<SampleTested> sample, Citation source) =>
        Matter.Finding(requirement, subject, Verdict.Missing, "No approval of the sample's mix, which states the target, was in force on that day.", source)
            with { Clear = "The quality engineer records the approval.", Used = [sample.Id], SetAside = matter.Unused<MixApproved>() };

    /// <summary>
    /// The finding about a sample, fixed by a retest: where a first result of slump, flow or air is out of limits, another portion of the
    /// same load is tested at once, and only a second failure counts. ASTM C94/C94M (from memory). Every retest has to be inside and usable.
    /// </summary>
    public static Finding Retested(Matter matter, Entry<SampleTested> sample, Func<Entry<SampleTested>, Finding> judge)
    {
        var finding = judge(sample);
        if (finding.Verdict != Verdict.NotMet || sample.Fact.RetestOf is not null) return finding;
        var again = matter.File.Samples.Where(s => s.Fact.RetestOf == sample.Fact.Sample && s.Fact.Batch == sample.Fact.Batch).ToList();
        return again.Count == 0 || !again.TrueForAll(s => Evidence.Doubts(matter, s).Count == 0 && judge(s).Verdict == Verdict.Met) ? finding
            : finding with
            {
                Verdict = Verdict.Met,
                Reason = $"{finding.Reason} Retested at once: sample {string.Join(", ", again.Select(s => s.Fact.Sample))} of the same load is inside the limits.",
                Clear = "",
                Used = [.. finding.Used, .. again.Select(s => s.Id)],
            };
    }

    /// <summary>The test does not belong to this kind of concrete.</summary>
    public static Finding NotOfThisConcrete(IRequirement requirement, string subject, string why, Entry<SampleTested> sample, Entry<MixApproved> mix, Citation source) =>
        Matter.Finding(requirement, subject, Verdict.NotApplicable, why, source) with { Used = [sample.Id, mix.Id] };

    /// <summary>The sample was tested and this reading was not taken.</summary>
    public static Finding NotRead(IRequirement requirement, string subject, string what, Entry<SampleTested> sample, Citation source) =>
        Matter.Finding(requirement, subject, Verdict.Missing, what, source) with { Clear = "The technician corrects the record, adding the reading, or the quality engineer decides.", Used = [sample.Id] };
}
