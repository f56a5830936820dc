using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Nothing was put into the mixer by hand, or the quality engineer has looked at it. Needs: placement, batch ticket. Each
/// addition is a question: it stands in no scale's record.
/// </summary>
public sealed class HandAdditions : IRequirement
{
    private static readonly Citation Source = new("Hand additions are recorded and looked at", SourceMark.CommonPractice);

    public string Id => "place.hand-additions";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Additions by hand";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerBatch(this, matter, Source, ticket =>
    {
        var subject = ticket.Fact.About.Key;
        return ticket.Fact.HandAdditions is not { Count: > 0 } added
            ? [Matter.Finding(this, subject, Verdict.Met, "The ticket shows no addition by hand.", Source) with { Used = [ticket.Id] }]
            : added.Select(a => Matter.Finding(this, $"{subject} {a.Name}", Verdict.CannotTell, $"{a.AmountLb.Text} lb of {a.Name} was added by hand: {a.Reason}", Source) with
            {
                Observed = a.AmountLb.Text + " lb",
                Clear = "The quality engineer decides on the batch.",
                Used = [ticket.Id],
            });
    });
}
