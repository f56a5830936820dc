using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// Every repair was approved before it began: with a disposition to repair, and for a structural or major nonconformance with
/// the letter of the engineer of record or the agency, both dated before. A repair that names none is taken as cosmetic, by a
/// pre-approved procedure, where the unit had neither an open nonconformance nor damage that it can have answered; else nobody
/// can tell. Needs: repairs as far as any were done.
/// </summary>
public sealed class Repairs : IRequirement
{
    private static readonly Citation Source = new("Iowa DOT Instructional Memorandum 445", SourceMark.Published, Clause: "Appendix AA, repairs with prior approval");

    public string Id => "ship.repairs-approved";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Repairs approved before they began";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var repairs = matter.File.Of<UnitRepaired>().ToList();
        if (repairs.Count == 0) yield return Matter.Finding(this, matter.File.Unit.Key, Verdict.NotApplicable, "No repair of this unit is recorded.", Source);
        foreach (var (repair, i) in repairs.Select((r, i) => (r, i + 1)))
        {
            var (verdict, reason, used) = repair.Fact.Nonconformance is { } number ? Approved(matter.File, repair, number) : Unnumbered(matter.File, repair);
            yield return Matter.Finding(this, $"{matter.File.Unit.Key} repair {i}", verdict, $"{repair.Fact.Procedure}: {reason}.", Source) with
            {
                Limit = "approved before it began",
                LimitConfirmed = true,
                Observed = $"began {repair.Fact.BeganAt:yyyy-MM-dd HH:mm zzz}",
                Clear = verdict is Verdict.Met or Verdict.NotApplicable ? "" : repair.Fact.Nonconformance is null ? "Who recorded the repair corrects it, naming the nonconformance it answers."
                    : "The quality engineer raises it with the agency and the engineer of record: a repair begun without approval cannot be approved afterwards.",
                Used = [repair.Id, .. used],
            };
        }
    }

    // Nothing of such a repair is checked, so it is never met.
    private static (Verdict, string, IReadOnlyList<Guid>) Unnumbered(UnitFile file, Entry<UnitRepaired> repair)
    {
        var (began, finished) = (repair.Clocked(repair.Fact.BeganAt), repair.Clocked(repair.Fact.FinishedAt));
        var closed = file.Of<NonconformanceClosed>().Where(c => c.At.Compare(began) == TimeOrder.Before).Select(c => c.Fact.About).ToHashSet();
        var open = file.Of<NonconformanceRaised>().Where(n => n.Fact.Units.Contains(file.Unit.Id) && !closed.Contains(n.Fact.About)).Select(n => (n.Id, n.At))
            .Concat(file.Of<UnitDamaged>().Select(d => (d.Id, d.At))).Concat(file.Of<ExceptionNoted>().Select(e => (e.Id, e.At)))
            .Where(o => o.At.Compare(finished) != TimeOrder.After).Select(o => o.Id).ToList();
        return open.Count == 0
            ? (Verdict.NotApplicable, "it names no nonconformance and the unit had none open and no damage; cosmetic repairs go by a pre-approved procedure", [])
            : (Verdict.CannotTell, "it names no nonconformance, and the unit had one open or was damaged", open);
    }

    private static (Verdict, string, IReadOnlyList<Guid>) Approved(UnitFile file, Entry<UnitRepaired> repair, string number)
    {
        var raised = file.Of<NonconformanceRaised>().Where(n => n.Fact.Nonconformance == number).ToList();
        if (raised.Count == 0) return (Verdict.Missing, $"nonconformance {number} is not recorded", []);
        var began = repair.Clocked(repair.Fact.BeganAt);
        var disposed = file.Of<NonconformanceDisposed>().Where(d => d.Fact.Nonconformance == number && d.Fact.Disposition is DispositionKind.Repair or DispositionKind.Rework).ToList();
        if (disposed.Count == 0) return (Verdict.Missing, $"no disposition of {number} to repair is recorded", [.. raised.Select(r => r.Id)]);
        var orders = new List<(TimeOrder Order, Guid Record)> { disposed.Select(d => (d.At.Compare(began), d.Id)).MinBy(o => Rank(o.Item1)) };
        if (raised.Exists(r => r.Fact.NeedsEngineer()))
        {
            var letters = file.Of<NonconformanceApproved>().Where(a => a.Fact.Nonconformance == number && a.Fact.By is Approver.EngineerOfRecord or Approver.Agency).ToList();
            if (letters.Count == 0) return (Verdict.Missing, $"{number} needs the letter of the engineer of record or the agency", [.. raised.Select(r => r.Id)]);
            // A letter is dated by who wrote it, not by a station's clock.
            orders.Add(letters.Select(a => (a.Fact.ApprovedAt <= began.At ? TimeOrder.Before : TimeOrder.After, a.Id)).MinBy(o => Rank(o.Item1)));
        }

        var worst = orders.MaxBy(o => Rank(o.Order)).Order;
        return (worst switch { TimeOrder.Before => Verdict.Met, TimeOrder.CannotTell => Verdict.CannotTell, _ => Verdict.NotMet },
            worst switch { TimeOrder.Before => "approved before it began", TimeOrder.CannotTell => "the clocks do not say whether it was approved before it began", _ => "begun before it was approved" },
            [.. raised.Select(r => r.Id), .. orders.Select(o => o.Record)]);
    }

    private static int Rank(TimeOrder order) => order switch { TimeOrder.Before => 0, TimeOrder.CannotTell => 1, _ => 2 };
}
