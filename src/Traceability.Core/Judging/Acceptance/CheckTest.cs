using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>
/// The agency took a check sample of concrete in the unit, where the contract asks for one. Its result is the agency's and does
/// not replace the plant's test. Needs: the agency's sample.
/// </summary>
public sealed class CheckTest : IRequirement
{
    private const string Asked = "asked.check-test";

    private static readonly Citation Source = new("Check samples of agencies", SourceMark.CommonPractice);

    public string Id => "acceptance.check-test";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Check test of the agency";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        var placed = matter.File.BatchSubjects;
        var samples = matter.File.Of<AgencySampleTaken>().Where(s => placed.Contains(s.Fact.About)).ToList();
        yield return samples.Count == 0
            ? Evidence.AbsentWhereAsked<AgencySampleTaken>(this, matter, unit, Asked, "The agency took no check sample of concrete in this unit.", "The agency's inspector takes it at the pour, or the quality engineer records the agency's letter.", Source)
            : Matter.Finding(this, unit, Verdict.Met, $"Check sample {string.Join(", ", samples.Select(s => s.Fact.AgencySample))}.", matter.Limit(Asked)?.Source ?? Source) with
            {
                Observed = samples[^1].Fact.AgencySample,
                Used = [.. samples.Select(s => s.Id)],
            };
    }
}
