using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// Every repair was approved before it began: with a disposition to repair, and for a structural or major nonconformance with
/// the letter of the engineer of record or the agency, both dated before. A repair that answers none is cosmetic by a
/// pre-approved procedure. Needs: repairs as far as any were done.
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
            var (verdict, reason, used) = Approved(matter.File, repair);
            yield return Matter.Finding(this, $"{matter.File.Unit.Key} repair {i}", verdict, $"{repair.Fact.Procedure}: {reason}.", Source) with
            {
                Limit = "approved before it began",
                LimitConfirmed = true,
                Observed = $"began {repair.Fact.BeganAt:yyyy-MM-dd HH:mm zzz}",
                Clear = verdict == Verdict.Met ? "" : "The quality engineer raises it with the agency and the engineer of record: a repair begun without approval cannot be approved afterwards.",
                Used = [repair.Id, .. used],
            };
        }
    }

    private static (Verdict, string, IReadOnlyList<Guid>) Approved(UnitFile file, Entry<UnitRepaired> repair)
    {
        if (repair.Fact.Nonconformance is not { } number) return (Verdict.Met, "cosmetic, by a pre-approved procedure", []);
        var raised = file.Of<NonconformanceRaised>().Where(n => n.Fact.Nonconformance == number).ToList();
        if (raised.Count == 0) return (Verdict.Missing, $"nonconformance {number} is not recorded", []);
        var began = repair.Clocked(repair.Fact.BeganAt);
        var disposed = file.Of<NonconformanceDisposed>().Where(d => d.Fact.Nonconformance == number && d.Fact.Disposition is DispositionKind.Repair or DispositionKind.Rework).ToList();
        if (disposed.Count == 0) return (Verdict.Missing, $"no disposition of {number} to repair is recorded", [.. raised.Select(r => r.Id)]);
        var orders = new List<(TimeOrder Order, Guid Record)> { disposed.Select(d => (d.At.Compare(began), d.Id)).MinBy(o => Rank(o.Item1)) };
        if (raised.Exists(r => r.Fact.Structural || r.Fact.Class == NonconformanceClass.Major))
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
