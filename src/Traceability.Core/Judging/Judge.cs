using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging.Holds;
using Traceability.Core.Judging.Settled;

namespace Traceability.Core.Judging;

/// <summary>The judgement of a unit: pure, from its file and a moment.</summary>
public static class Judge
{
    // A hold that no requirement feeds would read as ready without anything having been looked at.
    private static readonly IReadOnlyList<HoldKind> s_judged = [.. Rules.All.Select(r => r.Hold).Distinct().Order()];

    /// <summary>Assembles and judges a dossier.</summary>
    public static Judgement Dossier(Dossier dossier, DateTimeOffset at) => Unit(Assemble.Unit(dossier), at);

    public static Judgement Unit(UnitFile file, DateTimeOffset at) => Of(new Matter(file, at));

    /// <summary>By the contract's limits alone, as a document for the agency states it: the plant's own tighter limits hold back work and are no failures of a contract.</summary>
    public static Judgement ByContract(UnitFile file, DateTimeOffset at) => Of(new Matter(file, at, contractAlone: true));

    private static Judgement Of(Matter matter)
    {
        var file = matter.File;
        var findings = Rules.All.Where(matter.Judges).SelectMany(r => matter.Lifted(r.Id) is { } lifted ? [matter.NotAskedOf(r, file.Unit.Key, lifted)] : r.Judge(matter))
            .Select(f => Letters.Settle(matter, matter.ByContract(f)))
            .OrderBy(f => f.Hold).ThenBy(f => f.Requirement, StringComparer.Ordinal).ThenBy(f => f.Subject, StringComparer.Ordinal)
            .ThenBy(f => f.Reason, StringComparer.Ordinal)
            .Select(f => f with { Used = [.. f.Used.Distinct().Order()], SetAside = [.. f.SetAside.Distinct().OrderBy(s => s.Record).ThenBy(s => s.Why, StringComparer.Ordinal)] })
            .ToList();
        var holds = s_judged.Select(kind => HoldStates.Of(kind, findings, matter)).ToList();
        return new Judgement(file.Unit, matter.Profile?.Fact.About.Id ?? "", Rules.Version, findings, holds, matter.ValidUntil);
    }

    /// <summary>Holds whose open items also stand in the way of a later one.</summary>
    public static IReadOnlyList<HoldKind> Feeding(HoldKind kind) => kind switch
    {
        HoldKind.Pour => [HoldKind.Tying, HoldKind.CloseUp],
        HoldKind.Ship => [HoldKind.Tying, HoldKind.CloseUp, HoldKind.Pour, HoldKind.Place, HoldKind.Strip],
        HoldKind.Acceptance => [HoldKind.Tying, HoldKind.CloseUp, HoldKind.Pour, HoldKind.Place, HoldKind.Strip, HoldKind.Ship],
        _ => [],
    };
}
