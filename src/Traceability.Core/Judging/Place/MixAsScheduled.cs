using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>Every batch in the unit is of the scheduled mix. Needs: unit scheduled, placement, batch ticket.</summary>
public sealed class MixAsScheduled : IRequirement
{
    private static readonly Citation Source = new("Approved mix before use", SourceMark.CommonPractice);

    public string Id => "place.mix-as-scheduled";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Batches of the scheduled mix";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerBatch(this, matter, Source, ticket =>
    {
        var subject = ticket.Fact.About.Key;
        if (matter.File.Scheduled is not { } scheduled)
            return [Matter.Finding(this, subject, Verdict.Missing, "The unit is not scheduled with a mix.", Source) with { Clear = "The quality engineer schedules the unit.", Used = [ticket.Id] }];
        var met = ticket.Fact.Mix == scheduled.Fact.Mix;
        return
        [
            Matter.Finding(this, subject, met ? Verdict.Met : Verdict.NotMet, met ? $"Mix {ticket.Fact.Mix}, as scheduled." : $"Mix {ticket.Fact.Mix} was batched; the unit is scheduled with {scheduled.Fact.Mix}.", Source) with
            {
                Limit = scheduled.Fact.Mix,
                LimitConfirmed = true,
                Observed = ticket.Fact.Mix,
                Clear = met ? "" : "The quality engineer raises a nonconformance for the unit.",
                Used = [ticket.Id, scheduled.Id],
            },
        ];
    });
}
