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
}
