using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging.Holds;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Settled;

/// <summary>
/// Whether the approval of a nonconformance accepts what is not met: it is this unit's, its newest disposition is use as is
/// or repair and was what the letter approved, a structural or major matter, a strength that the contract asks or domestic steel
/// has the letter it needs, and an agency's letter is of the contract the unit is under now.
/// </summary>
internal static class Nonconformances
{
    private static readonly HashSet<string> s_strength = new(StringComparer.Ordinal) { "strip.strength", "ship.strength", "acceptance.strength", "acceptance.low-strength", "acceptance.running-mean" };

    public static bool Accepts(Matter matter, Entry<NonconformanceApproved> approval, Finding finding)
    {
        var file = matter.File;
        var raised = file.Of<NonconformanceRaised>().Where(r => r.Fact.About == approval.Fact.About).ToList();
        if (approval.Fact.By == Approver.Agency && !OfContract.Now(file, approval.Whole)) return false;
        if (!raised.Exists(r => r.Fact.Units.Any(u => Subject.Unit(u) == file.Unit))) return false;
        if (approval.Fact.By == Approver.QualityEngineer && (raised.Exists(r => r.Fact.NeedsEngineer()) || (s_strength.Contains(finding.Requirement) && !matter.IsPlants(finding)))) return false;
        if (finding.Requirement.Contains(".domestic", StringComparison.Ordinal) && approval.Fact.By != Approver.Agency) return false;
        return file.Of<NonconformanceDisposed>().LastOrDefault(d => d.Fact.About == approval.Fact.About) is { Fact.Disposition: DispositionKind.UseAsIs or DispositionKind.Repair } disposed
            && disposed.At.Compare(approval.At) != TimeOrder.After;
    }

    public static string Words(Approver by) => by switch
    {
        Approver.EngineerOfRecord => "engineer of record",
        Approver.QualityEngineer => "quality engineer",
        _ => "agency",
    };
}
