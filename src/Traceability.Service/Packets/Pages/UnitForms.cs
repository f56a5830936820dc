using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;

namespace Traceability.Service.Packets.Pages;

/// <summary>How each form of the index stands for a unit: never blank.</summary>
internal static class UnitForms
{
    // Requirements that belong on another form than most of their hold.
    private static readonly Dictionary<string, PacketSection> Elsewhere = new(StringComparer.Ordinal)
    {
        ["tying.drawing-current"] = PacketSection.Identification,
        ["pour.drawing-in-force"] = PacketSection.Identification,
        ["pour.drawing-stands"] = PacketSection.Identification,
        ["pour.embeds-domestic"] = PacketSection.Steel,
        ["pour.mix-approved"] = PacketSection.ConcreteMaterials,
        ["place.mix-as-scheduled"] = PacketSection.ConcreteMaterials,
        ["place.sources-approved"] = PacketSection.ConcreteMaterials,
        ["place.not-quarantined"] = PacketSection.ConcreteMaterials,
        ["place.plant-approval"] = PacketSection.PeopleAndInstruments,
        ["place.scales-checked"] = PacketSection.PeopleAndInstruments,
        ["ship.lots-certified"] = PacketSection.ConcreteMaterials,
        ["close-up.inspector"] = PacketSection.PeopleAndInstruments,
        ["close-up.instruments"] = PacketSection.PeopleAndInstruments,
        ["pour.inspector"] = PacketSection.PeopleAndInstruments,
        ["pour.instruments"] = PacketSection.PeopleAndInstruments,
        ["place.instruments"] = PacketSection.PeopleAndInstruments,
        ["place.tester"] = PacketSection.PeopleAndInstruments,
        ["place.batch-weights"] = PacketSection.Batches,
        ["place.batch-water"] = PacketSection.Batches,
        ["place.w-cm"] = PacketSection.Batches,
        ["place.discharge"] = PacketSection.Batches,
        ["place.aggregates-cumulative"] = PacketSection.Batches,
        ["place.charging-order"] = PacketSection.Batches,
        ["place.hand-additions"] = PacketSection.Batches,
        ["place.field-water"] = PacketSection.Batches,
        ["place.chloride"] = PacketSection.Batches,
        ["place.chloride-admixtures"] = PacketSection.Batches,
        ["place.yield"] = PacketSection.Batches,
        ["place.interruption"] = PacketSection.Batches,
        ["place.loads-accepted"] = PacketSection.Batches,
        ["place.rejected-concrete"] = PacketSection.Batches,
        ["place.nothing-displaced"] = PacketSection.Batches,
        ["place.weather"] = PacketSection.Batches,
        ["place.form-pressure"] = PacketSection.Batches,
        ["place.represented"] = PacketSection.Batches,
        ["strip.strength"] = PacketSection.Strength,
        ["ship.strength"] = PacketSection.Strength,
        ["ship.minimum-age"] = PacketSection.Strength,
        ["strip.curing"] = PacketSection.Curing,
        ["ship.records-agree"] = PacketSection.Deviations,
        ["ship.nonconformances"] = PacketSection.Deviations,
        ["ship.as-cast"] = PacketSection.AsCast,
        ["ship.cracks"] = PacketSection.AsCast,
        ["ship.fit"] = PacketSection.AsCast,
        ["ship.marked"] = PacketSection.AsCast,
        ["ship.repairs-approved"] = PacketSection.AsCast,
        ["ship.sound"] = PacketSection.AsCast,
        ["ship.stamped"] = PacketSection.Agency,
        ["pour.sampling-plan"] = PacketSection.Batches,
        ["pour.embeds-domestic"] = PacketSection.Steel,
        ["place.charging-order"] = PacketSection.Batches,
        ["place.chloride"] = PacketSection.ConcreteMaterials,
        ["place.field-water"] = PacketSection.Batches,
        ["place.hand-additions"] = PacketSection.Batches,
        ["place.interruption"] = PacketSection.Batches,
        ["place.loads-accepted"] = PacketSection.Batches,
        ["place.not-quarantined"] = PacketSection.ConcreteMaterials,
        ["place.plant-approval"] = PacketSection.ConcreteMaterials,
        ["place.rejected-concrete"] = PacketSection.Batches,
        ["place.scales-checked"] = PacketSection.PeopleAndInstruments,
        ["place.sources-approved"] = PacketSection.ConcreteMaterials,
        ["place.yield"] = PacketSection.Batches,
        ["acceptance.domestic-tally"] = PacketSection.Steel,
        ["acceptance.represented"] = PacketSection.Batches,
    };

    /// <summary>The form a finding is printed on.</summary>
    public static PacketSection SectionOf(Finding finding) => Elsewhere.TryGetValue(finding.Requirement, out var section) ? section : finding.Hold switch
    {
        _ when finding.Requirement.EndsWith(".agency", StringComparison.Ordinal) => PacketSection.Releases,
        HoldKind.Tying => PacketSection.Steel,
        HoldKind.CloseUp => PacketSection.CloseUp,
        HoldKind.Pour => PacketSection.PrePour,
        HoldKind.Place => PacketSection.FreshTests,
        HoldKind.Acceptance => PacketSection.Strength,
        _ => PacketSection.StripAndShip,
    };

    public static bool HasFacts(UnitMatter unit, PacketSection section)
    {
        var file = unit.File;
        return section switch
        {
            PacketSection.Identification => file.Scheduled is not null,
            PacketSection.Steel => file.Cage is not null,
            PacketSection.ConcreteMaterials => file.Mix is not null || file.Batches.Any(),
            PacketSection.PeopleAndInstruments => true,
            PacketSection.CloseUp => file.Last<CloseUpInspected>() is not null,
            PacketSection.PrePour => file.Last<PrePourInspected>() is not null,
            PacketSection.Batches => file.Placements.Any() || file.Batches.Any(),
            PacketSection.FreshTests => file.RepresentingSamples.Any(),
            PacketSection.Strength => file.RepresentingSamples.Any(s => s.Fact.Cylinders.Count > 0) || file.Of<CoreTaken>().Any(),
            PacketSection.Curing => file.Of<CureTemperatures>().Any() || file.Of<CureBegun>().Any(),
            PacketSection.AsCast => file.Entries.Any(e => e.Fact is AsCastInspected or CracksMapped or UnitFitted or UnitRepaired or UnitDamaged or UnitMarked or UnitStored or UnitMoved),
            PacketSection.StripAndShip => file.Last<UnitStripped>() is not null || file.Last<UnitShipped>() is not null,
            PacketSection.Releases or PacketSection.Agency or PacketSection.Deviations or PacketSection.Findings => true,
            _ => false,
        };
    }

    /// <summary>What stands in the index for a form, with <see cref="Paper.PageSlot"/> where the page number goes.</summary>
    public static string Index(UnitMatter unit, PacketForm form)
    {
        var exempt = form.NotRequiredBy(unit.Product);
        if (form.Section == PacketSection.None) return exempt is null ? "MISSING" : $"not required by {exempt}";
        if (!HasFacts(unit, form.Section) && NotAsked(unit, form) is { } asked) return $"not required by {asked}";
        if (!HasFacts(unit, form.Section))
            return exempt is not null ? $"not required by {exempt}" : (State(unit, form) ?? "MISSING") + $" (page {Paper.PageSlot})";
        return State(unit, form) is { } state ? $"page {Paper.PageSlot}; {state}" : $"page {Paper.PageSlot}";
    }

    /// <summary>What says that nothing of a form is asked of the unit; null when something is.</summary>
    public static string? NotAsked(UnitMatter unit, PacketForm form)
    {
        var findings = unit.Judgement.Findings.Where(f => SectionOf(f) == form.Section).ToList();
        if (findings.Count == 0) return "any requirement judged";
        if (findings.Any(f => f.Verdict != Verdict.NotApplicable)) return null;
        // A clause where one is cited; else the profile of limits, which asks none of it.
        return findings.Select(f => f.Source).FirstOrDefault(s => s.Mark is SourceMark.Published or SourceMark.Recorded) is { } cited ? PacketMatter.Cited(cited)
            : $"the contract's limits ({unit.File.Profile?.Fact.About.Id ?? "no profile recorded"})";
    }

    /// <summary>What is open on a form, in words; null when nothing is.</summary>
    public static string? State(UnitMatter unit, PacketForm form)
    {
        var open = unit.Judgement.Findings.Where(f => SectionOf(f) == form.Section && (PacketMatter.IsOpen(f) || PacketMatter.IsException(f))).ToList();
        var parts = new List<string>();
        var pending = open.Where(f => f.Verdict == Verdict.Pending).ToList();
        if (pending.Count > 0) parts.Add(Pending(pending, form));
        foreach (var group in open.Where(f => f.Verdict != Verdict.Pending).GroupBy(f => f.Verdict).OrderBy(g => g.Key))
            parts.Add($"{group.Count()} {Words.Of(group.Key)}");
        if (form.Section == PacketSection.Deviations) parts.AddRange(Deviations(unit));
        if (form.Section == PacketSection.Releases && unit.Judgement.Holds.Count(PacketMatter.IsBreach) is > 0 and var breaches)
            parts.Add(Words.Many(breaches, "hold") + " to be looked at");
        return parts.Count == 0 ? null : string.Join("; ", parts);
    }

    private static IEnumerable<string> Deviations(UnitMatter unit)
    {
        var open = unit.Judgement.Findings.Count(PacketMatter.IsOpen);
        if (open > 0) yield return Words.Many(open, "open item");
        var conflicts = PacketMatter.Conflicts(unit).Count();
        if (conflicts > 0) yield return Words.Many(conflicts, "record") + " in conflict";
    }

    private static string Pending(List<Finding> pending, PacketForm form)
    {
        var due = pending.Where(f => f.Due is not null).Select(f => f.Due!.Value).ToList();
        var when = due.Count == 0 ? "due date not set" : "due " + Figures.Day(Matter.DayOf(due.Max()));
        return $"pending, {when}, " + (form.PendingAllowedBy is { } clause ? $"allowed by {clause}" : "no clause allows it");
    }
}
