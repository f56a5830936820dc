using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// The first load that went into the unit was tested. Needs: placement, batch ticket, sample tested. Its results and a retest are
/// judged by their own requirements. Asked only where the profile asks it.
/// </summary>
public sealed class FirstLoad : IRequirement
{
    private const string Asked = "sampling.first-load";

    private static readonly Citation Source = new("First load tested before it is placed", SourceMark.CommonPractice);

    public string Id => "place.first-load";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "First load tested";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Asked) is not { Value.Value: > 0 } asked) return [Evidence.NotAsked(this, matter, unit, Asked, Source)];
        if (matter.File.BatchSubjects.Count == 0) return [Evidence.NoPlacement(this, matter, Source)];
        var tickets = matter.File.Batches.ToList();
        // A batch without its ticket may be the first.
        if (tickets.Select(t => t.Fact.About).ToHashSet().Count < matter.File.BatchSubjects.Count)
            return [Matter.Finding(this, unit, Verdict.Missing, "A ticket of a batch in the unit is not recorded, so nobody can say which load was the first.", asked.Source) with { Clear = "The batch operator sends the ticket.", Used = [matter.Profile!.Id] }];
        var first = tickets.OrderBy(t => t.Clocked(t.Fact.ChargedAt).At).ThenBy(t => t.Id).First();
        var samples = matter.File.Samples.Where(s => s.Fact.Batch == first.Fact.Batch).ToList();
        var good = samples.Where(s => Evidence.Doubts(matter, s).Count == 0).ToList();
        return
        [
            Matter.Finding(this, $"{unit} {first.Fact.About.Key}", good.Count > 0 ? Verdict.Met : Verdict.Missing,
                good.Count > 0 ? $"The first load was tested, sample {good[0].Fact.Sample}." : samples.Count > 0 ? $"The test of the first load does not count: {string.Join("; ", samples.SelectMany(s => Evidence.Doubts(matter, s)).Distinct())}." : "The first load was not tested.", asked.Source) with
            {
                Limit = asked.Printed,
                LimitConfirmed = asked.ConfirmedBy is not null,
                Clear = good.Count > 0 ? "" : "The laboratory records the test; once the concrete is placed the quality engineer decides.",
                Used = [first.Id, matter.Profile!.Id, .. good.Select(s => s.Id)],
                SetAside = [.. samples.Except(good).Select(s => new UnusedEvidence(s.Id, string.Join("; ", Evidence.Doubts(matter, s)))), .. matter.Unused<SampleTested>()],
            },
        ];
    }
}
