using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// Every damage after casting, and every exception its receiver noted, has a nonconformance raised at it or later. Needs:
/// damages as far as any are recorded.
/// </summary>
public sealed class Damage : IRequirement
{
    private static readonly Citation Source = new("Damaged units are not shipped before somebody decided", SourceMark.CommonPractice);

    public string Id => "ship.sound";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Damage answered";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        var damages = matter.File.Of<UnitDamaged>().Select(d => (d.Id, d.At, d.Fact.Damage))
            .Concat(matter.File.Of<ExceptionNoted>().Select(e => (e.Id, e.At, Damage: e.Fact.Exception))).ToList();
        if (damages.Count == 0) yield return Matter.Finding(this, unit, Verdict.NotApplicable, "No damage of this unit is recorded.", Source);
        foreach (var (damage, i) in damages.Select((d, i) => (d, i + 1)))
        {
            var answers = matter.File.Of<NonconformanceRaised>().Where(n => n.Fact.Units.Contains(matter.File.Unit.Id) && n.At.Compare(damage.At) != TimeOrder.Before).ToList();
            var met = answers.Count > 0;
            yield return Matter.Finding(this, $"{unit} damage {i}", met ? Verdict.Met : Verdict.NotMet, met ? $"{damage.Damage}: nonconformance {answers[0].Fact.Nonconformance}." : $"{damage.Damage}: no nonconformance was raised.", Source)
                with { Clear = met ? "" : "The plant inspector raises a nonconformance; what it becomes is judged there.", Used = [damage.Id, .. answers.Select(a => a.Id)] };
        }
    }
}
