using Traceability.Core.Dossiers;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;

namespace Traceability.Service.Packets;

/// <summary>
/// The plant may work to tighter limits than the contract's. Missing one of those is the plant's own affair: it never
/// stands in a packet as "not met".
/// </summary>
internal static class PlantLimits
{
    /// <summary>The judgement without failures of limits that stand in the plant's own plan. The same object when there are none.</summary>
    public static Judgement LeftOut(Judgement judgement, UnitFile file)
    {
        var own = (file.Profile?.Fact.Limits ?? []).Where(l => l.Rank == LimitRank.PlantPlan).Select(l => l.Source).ToHashSet();
        var failed = judgement.Findings.Where(f => f.Limit.Length > 0 && own.Contains(f.Source) && f.Verdict != Verdict.Met).ToList();
        if (failed.Count == 0) return judgement;
        var left = judgement.Findings.Except(failed).ToList();
        var gone = failed.Select(f => (f.Requirement, f.Subject, f.Reason)).ToHashSet();
        return judgement with
        {
            Findings = left,
            Holds = [.. judgement.Holds.Select(h => Without(h, gone))],
        };
    }

    private static Hold Without(Hold hold, HashSet<(string, string, string)> gone)
    {
        var open = hold.OpenItems.Where(i => !gone.Contains((i.Requirement, i.Subject, i.Reason))).ToList();
        return hold with
        {
            OpenItems = open,
            State = hold.State == HoldState.Held && open.Count == 0 ? HoldState.Ready : hold.State,
            Contradicted = hold.Contradicted && open.Count > 0,
        };
    }
}
