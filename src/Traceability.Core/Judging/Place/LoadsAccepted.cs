using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>Every load in the unit was accepted by somebody. Needs: placement, load accepted. Asked only where the profile asks it.</summary>
public sealed class LoadsAccepted : IRequirement
{
    private const string Asked = "load.accepted";

    private static readonly Citation Source = new("Loads accepted before placing", SourceMark.CommonPractice);

    public string Id => "place.loads-accepted";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Loads accepted";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.Limit(Asked) is not { Value.Value: > 0 } asked) return [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Asked, Source)];
        if (matter.File.BatchSubjects.Count == 0) return [Evidence.NoPlacement(this, matter, Source)];
        return matter.File.BatchSubjects.Order().Select(batch =>
        {
            var accepted = matter.File.Of<LoadAccepted>().FirstOrDefault(a => a.Fact.About == batch);
            return Matter.Finding(this, batch.Key, accepted is null ? Verdict.Missing : Verdict.Met, accepted is null ? $"Nobody recorded accepting batch {batch.Id}." : $"Batch {batch.Id} was accepted by {accepted.Person ?? "an unnamed person"}.", asked.Source) with
            {
                Limit = asked.Printed,
                LimitConfirmed = asked.ConfirmedBy is not null,
                Clear = accepted is null ? "The technician or the inspector records the acceptance; once placed the quality engineer decides." : "",
                Used = accepted is null ? [matter.Profile!.Id] : [accepted.Id, matter.Profile!.Id],
                SetAside = matter.Unused<LoadAccepted>(),
            };
        });
    }
}
