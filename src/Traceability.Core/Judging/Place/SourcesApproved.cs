using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// The source of every ingredient was approved on the day of the batch. Needs: placement, batch ticket, source approved, storage filled.
/// Every lot that can have been in a silo or bin is asked for. Asked only where the profile asks it.
/// </summary>
public sealed class SourcesApproved : IRequirement
{
    private const string Asked = "source.approved";

    private static readonly Citation Source = new("Approved sources of materials", SourceMark.CommonPractice);

    public string Id => "place.sources-approved";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Sources of the materials approved";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter) => matter.Limit(Asked) is not { Value.Value: > 0 } asked
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Asked, Source)]
        : Evidence.PerBatch(this, matter, Source, ticket => ticket.Fact.Ingredients.SelectMany(ingredient =>
        {
            var lots = ChlorideContent.Lots(matter, ticket, ingredient);
            var day = ticket.Fact.Batch.Date;
            var subject = $"{ticket.Fact.About.Key} {ingredient.Name}";
            if (lots.Count == 0) return [Of(subject, Verdict.Missing, $"{ingredient.Name}: neither lot nor storage says where it came from.", [])];
            return lots.Select(l => l.Producer).Distinct(StringComparer.Ordinal).Select(producer =>
            {
                var approved = matter.File.Of<SourceApproved>().FirstOrDefault(a => a.Fact.Producer == producer && a.Fact.Material == ingredient.Material && a.Fact.ApprovedOn <= day && day <= a.Fact.ValidThrough);
                return Of($"{subject} {producer}", approved is null ? Verdict.Missing : Verdict.Met,
                    approved is null ? $"{ingredient.Name}: no approval of source {producer} covers {day:yyyy-MM-dd}." : $"{ingredient.Name}: source {producer} is approved through {approved.Fact.ValidThrough:yyyy-MM-dd}.", approved is null ? [] : [approved.Id]);
            });

            Finding Of(string about, Verdict verdict, string reason, Guid[] used) => Matter.Finding(this, about, verdict, reason, asked.Source) with
            {
                Limit = asked.Printed,
                LimitConfirmed = asked.ConfirmedBy is not null,
                Clear = verdict == Verdict.Met ? "" : "The quality engineer reads in the approval of the source.",
                Used = [ticket.Id, matter.Profile!.Id, .. used],
                SetAside = matter.Unused<SourceApproved>(),
            };
        }));
}
