using Traceability.Core.Dossiers;
using Traceability.Core.Events;

namespace Traceability.Core.Judging;

/// <summary>A lot of bars of one size that is in the cage, or may be in it through a rack.</summary>
/// <param name="Rack">The rack it may have come from; null when its tag was read.</param>
/// <param name="Used">The cage's record and, through a rack, the filling.</param>
internal sealed record CageLot(LotId Lot, string Size, string? Rack, IReadOnlyList<Guid> Used)
{
    public bool Certain => Rack is null;

    /// <summary>"is in" for a lot whose tag was read, "may be in ... through rack R" for another.</summary>
    public string In(string cage) => Certain ? $"is in cage {cage}" : $"may be in cage {cage} through rack {Rack}";

    /// <summary>What a lot that fails says of the cage: a lot that only may be in it leaves a question.</summary>
    public Verdict Failed => Certain ? Verdict.NotMet : Verdict.CannotTell;
}

/// <summary>The lots of a cage: those whose tags were read, and every one that a rack it was tied from could have held.</summary>
internal static class CageLots
{
    /// <summary>
    /// By lot and size, certain ones first. A lot in the rack that is known to be of other sizes alone was not taken for bars
    /// of this size.
    /// </summary>
    public static IReadOnlyList<CageLot> Of(Matter matter, Entry<CageTied> cage) =>
        [.. cage.Fact.Bars.SelectMany(b => b.Lots.Select(l => new CageLot(l, b.Size, null, [cage.Id])))
            .Concat(cage.Fact.Bars.Where(b => b.Rack is not null).SelectMany(b => FromRack(matter, cage, b)))
            .DistinctBy(l => (l.Lot, l.Size))];

    /// <summary>Racks the cage was tied from that nothing is known to have been filled into: what is in the cage cannot be said.</summary>
    public static IEnumerable<Finding> Empty(IRequirement requirement, Matter matter, Entry<CageTied> cage, Profiles.Citation source) =>
        cage.Fact.Bars.Where(b => b.Rack is not null && b.Lots.Count == 0 && !FromRack(matter, cage, b).Any()).DistinctBy(b => (b.Rack, b.Size))
            .Select(b => Matter.Finding(requirement, $"{matter.File.Unit.Key} rack {b.Rack} {b.Size}", Verdict.Missing, $"Bars {b.Size} came from rack {b.Rack}, and no lot of that size is recorded as filled into it before the cage was tied.", source)
                with { Clear = "Receiving records what was put into the rack, or the crew reads the tags.", Used = [cage.Id], SetAside = matter.Unused<StorageFilled>() });

    private static IEnumerable<CageLot> FromRack(Matter matter, Entry<CageTied> cage, TiedBars bars) =>
        matter.File.Contents(bars.Rack!, cage.At).Where(c => c.Fact.Material is Material.Bar or Material.WeldedWire && MayBe(matter, c.Fact.Lot, bars.Size))
            .Select(c => new CageLot(c.Fact.Lot, bars.Size, bars.Rack, [cage.Id, c.Id]));

    private static bool MayBe(Matter matter, LotId lot, string size)
    {
        var sizes = matter.File.Of<LotReceived>().Where(r => r.Fact.Lot == lot).Select(r => r.Fact.Size)
            .Concat(matter.File.Of<LotCertified>().Where(c => c.Fact.Lot == lot).Select(c => c.Fact.Size)).ToList();
        return sizes.Count == 0 || sizes.Exists(s => s is null || s == size);
    }
}
