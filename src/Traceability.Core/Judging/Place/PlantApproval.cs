using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// The plant that batched was approved on that day. Needs: placement, batch ticket, plant approved. A conditional or probationary
/// approval is a question: what it still allows stands in its letter. Asked only where the profile asks it.
/// </summary>
public sealed class PlantApproval : IRequirement
{
    private const string Asked = "plant.approved";

    private static readonly Citation Source = new("Approved list of plants of the agency", SourceMark.CommonPractice);

    public string Id => "place.plant-approval";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Plant approved";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter) => matter.Limit(Asked) is not { Value.Value: > 0 } asked
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Asked, Source)]
        : Evidence.PerBatch(this, matter, Source, ticket =>
        {
            var (plant, day) = (ticket.Fact.Batch.Plant, ticket.Fact.Batch.Date);
            var all = matter.File.Of<PlantApproved>().Where(a => a.Fact.Plant == plant && a.Fact.From <= day && day <= a.Fact.Through).ToList();
            // The worst of several that cover the day counts: a withdrawal is not overtaken by the approval it ended.
            var worst = all.OrderByDescending(a => a.Fact.Status).ThenBy(a => a.Id).FirstOrDefault();
            var (verdict, reason) = worst?.Fact.Status switch
            {
                null => (Verdict.Missing, $"No approval of plant {plant} covers {day:yyyy-MM-dd}."),
                ApprovalStatus.Approved => (Verdict.Met, $"Plant {plant} is approved through {worst.Fact.Through:yyyy-MM-dd}."),
                ApprovalStatus.Withdrawn => (Verdict.NotMet, $"The approval of plant {plant} is withdrawn from {worst.Fact.From:yyyy-MM-dd} on."),
                _ => (Verdict.CannotTell, $"The approval of plant {plant} is {worst.Fact.Status.ToString().ToLowerInvariant()}; what it still allows stands in {worst.Fact.Document}."),
            };
            return
            [
                Matter.Finding(this, ticket.Fact.About.Key, verdict, reason, asked.Source) with
                {
                    Limit = asked.Printed,
                    LimitConfirmed = asked.ConfirmedBy is not null,
                    Observed = worst?.Fact.Document ?? "",
                    Clear = verdict == Verdict.Met ? "" : "The quality engineer reads in the approval, or asks the agency.",
                    Used = [ticket.Id, matter.Profile!.Id, .. all.Select(a => a.Id)],
                    SetAside = matter.Unused<PlantApproved>(),
                },
            ];
        });
}
