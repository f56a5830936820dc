using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Samples that stand for the unit are of concrete that was accepted. Needs: placement, sample tested, load rejected. Cylinders of a
/// rejected load prove nothing about the rest.
/// </summary>
public sealed class SampledLoad : IRequirement
{
    private static readonly Citation Source = new("Samples are taken of accepted concrete", SourceMark.CommonPractice);

    public string Id => "place.sampled-load";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Samples of accepted concrete";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerSample(this, matter, Source, sample =>
    {
        var rejected = Evidence.Rejected(matter, sample);
        return
        [
            Matter.Finding(this, sample.Fact.About.Key, rejected is null ? Verdict.Met : Verdict.NotMet,
                rejected is null ? $"Batch {sample.Fact.Batch.Ticket} is not rejected." : $"Sample {sample.Fact.Sample} is of batch {sample.Fact.Batch.Ticket}, which was rejected: {rejected.Fact.Reason}", Source) with
            {
                Limit = "a load that is not rejected",
                LimitConfirmed = true,
                Clear = rejected is null ? "" : "Another sample stands for the unit, or the quality engineer decides what does.",
                Used = rejected is null ? [sample.Id] : [sample.Id, rejected.Id],
            },
        ];
    });
}
