using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging;

/// <summary>The judgement of a unit: pure, from its file and a moment.</summary>
public static class Judge
{
    // A hold that no requirement feeds would read as ready without anything having been looked at.
    private static readonly IReadOnlyList<HoldKind> s_judged = [.. Rules.All.Select(r => r.Hold).Distinct().Order()];

    /// <summary>Assembles and judges a dossier.</summary>
    public static Judgement Dossier(Dossier dossier, DateTimeOffset at) => Unit(Assemble.Unit(dossier), at);

    public static Judgement Unit(UnitFile file, DateTimeOffset at)
    {
        var matter = new Matter(file, at);
        var findings = Rules.All.SelectMany(r => matter.Lifted(r.Id) is { } lifted ? [matter.NotAskedOf(r, file.Unit.Key, lifted)] : r.Judge(matter))
            .OrderBy(f => f.Hold).ThenBy(f => f.Requirement, StringComparer.Ordinal).ThenBy(f => f.Subject, StringComparer.Ordinal)
            .ThenBy(f => f.Reason, StringComparer.Ordinal)
            .Select(f => f with { Used = [.. f.Used.Distinct().Order()], SetAside = [.. f.SetAside.Distinct().OrderBy(s => s.Record).ThenBy(s => s.Why, StringComparer.Ordinal)] })
            .ToList();
        var holds = s_judged.Select(kind => Hold(kind, findings, matter)).ToList();
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

    private static Hold Hold(HoldKind kind, List<Finding> findings, Matter matter)
    {
        var open = Feeding(kind).Prepend(kind)
            .SelectMany(k => findings.Where(f => f.Hold == k && !f.Allows))
            .Select(f => new OpenItem(f.Requirement, f.Subject, f.Verdict, f.Reason, f.Clear)).ToList();
        var needsRelease = matter.Profile?.Fact.Releases.Contains(kind) ?? true;
        var release = ReleaseOf(kind, matter.File);
        var step = StepOf(kind, matter.File);
        var state = open.Count == 0 ? HoldState.Ready : HoldState.Held;
        if (step is { } taken && needsRelease)
        {
            state = release is null ? HoldState.PassedWithoutRelease : release.At.Compare(taken.At) switch
            {
                TimeOrder.Before => HoldState.Released,
                TimeOrder.After => HoldState.PassedWithoutRelease,
                _ => HoldState.CannotTell,
            };
        }
        else if (release is not null)
        {
            state = HoldState.Released;
        }

        return new Hold(kind, state, open, needsRelease, release?.Source.Id, step?.Record, release is not null && open.Count > 0);
    }

    // The first release is the one the step was taken on; a later one cannot mend a step already taken.
    private static Entry? ReleaseOf(HoldKind kind, UnitFile file) =>
        file.Entries.FirstOrDefault(e => e.Fact is IRelease release && release.Hold == kind && Subject.Unit(release.Unit) == file.Unit);

    private static (Moment At, Guid Record)? StepOf(HoldKind kind, UnitFile file)
    {
        switch (kind)
        {
            case HoldKind.Tying when file.Cage is { } cage:
                return (cage.At, cage.Id);
            case HoldKind.CloseUp when file.Last<PrePourInspected>() is { } closed:
                return (closed.At, closed.Id);
            case HoldKind.Pour or HoldKind.Place when file.Placements.Any():
                // The first concrete in the unit, whichever pour was reported first.
                return file.Placements.Select(p => (At: p.Pour.Clocked(p.Pour.Fact.StartedAt), Record: p.Pour.Id)).OrderBy(p => p.At.At).ThenBy(p => p.Record).First();
            case HoldKind.Strip when file.Of<UnitStripped>().FirstOrDefault() is { } stripped:
                return (stripped.At, stripped.Id);
            case HoldKind.Ship when file.Of<UnitShipped>().FirstOrDefault() is { } shipped:
                return (shipped.At, shipped.Id);
            default:
                return null;
        }
    }
}
