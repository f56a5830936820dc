using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// Before the pour it is set which sample will stand for the unit: a sampling lot with the unit in it, its random number drawn
/// where it is drawn at random. Needs: sampling lot defined, random number drawn. Asked only where the profile asks it.
/// </summary>
public sealed class SamplingPlan : IRequirement
{
    private const string Asked = "sampling.plan";

    private static readonly Citation Source = new("Sampling plan set before the pour", SourceMark.CommonPractice);

    public string Id => "pour.sampling-plan";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Sampling plan set";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Asked) is not { Value.Value: > 0 } asked) return [Evidence.NotAsked(this, matter, unit, Asked, Source)];
        var lots = matter.File.Of<SamplingLotDefined>().Where(l => l.Fact.Units.Any(u => Subject.Unit(u) == matter.File.Unit)).ToList();
        if (lots.Count == 0)
        {
            return
            [
                Evidence.Absent<SamplingLotDefined>(this, matter, unit, "The unit belongs to no sampling lot.", "The quality engineer defines the sampling lot before the pour.", asked.Source)
                    with { Limit = asked.Printed, LimitConfirmed = asked.ConfirmedBy is not null, Used = [matter.Profile!.Id] },
            ];
        }

        return lots.Select(lot =>
        {
            var drawn = matter.File.Of<RandomNumberDrawn>().LastOrDefault(r => r.Fact.SamplingLot == lot.Fact.SamplingLot);
            var (verdict, reason) = (lot.Fact.SkippedByPermission, lot.Fact.DrawnAtRandom, drawn) switch
            {
                ({ } letter, _, _) => (Verdict.Met, $"The sample of lot {lot.Fact.SamplingLot} is left out by permission: {letter}."),
                (_, true, null) => (Verdict.Missing, $"Lot {lot.Fact.SamplingLot} is sampled at random and no number was drawn."),
                (_, true, { } number) => (Verdict.Met, $"Lot {lot.Fact.SamplingLot}: number {number.Fact.Number} points to {number.Fact.PointsTo}."),
                _ => (Verdict.Met, $"Lot {lot.Fact.SamplingLot} is set."),
            };
            return Matter.Finding(this, $"{unit} {lot.Fact.About.Key}", verdict, reason, asked.Source) with
            {
                Limit = asked.Printed,
                LimitConfirmed = asked.ConfirmedBy is not null,
                Clear = verdict == Verdict.Met ? "" : "The quality engineer draws the number before the pour.",
                Used = drawn is null ? [lot.Id, matter.Profile!.Id] : [lot.Id, drawn.Id, matter.Profile!.Id],
            };
        });
    }
}
