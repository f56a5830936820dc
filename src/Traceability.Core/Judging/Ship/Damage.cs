using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// Every damage after casting, and every exception its receiver noted, has a nonconformance that names this requirement, raised at it or
/// later. Needs:
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
            var raised = Nonconformances.Of(matter).Where(n => n.Requirement == Id).ToLookup(n => n.RaisedSince(damage.At));
            var verdict = raised[true].Any() ? Verdict.Met : raised[null].Any() ? Verdict.CannotTell : Verdict.NotMet;
            var answers = raised[verdict == Verdict.Met ? true : null].ToList();
            var numbers = string.Join(", ", answers.Select(n => n.Id));
            yield return Matter.Finding(this, $"{unit} damage {i}", verdict, verdict switch
            {
                Verdict.Met => $"{damage.Damage}: nonconformance {numbers}.",
                Verdict.CannotTell => $"{damage.Damage}: the clocks do not say whether nonconformance {numbers} was raised since.",
                _ => $"{damage.Damage}: no nonconformance that names {Id} was raised since.",
            }, Source) with
            {
                Clear = verdict == Verdict.Met ? "" : $"The plant inspector raises a nonconformance that names {Id}; what it becomes is judged there.",
                Used = [damage.Id, .. answers.SelectMany(n => n.Records)],
            };
        }
    }
}
