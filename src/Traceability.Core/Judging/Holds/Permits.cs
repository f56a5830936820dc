using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

/// <summary>A plant's decision that lets a step be taken: a release, or an override with the open items it goes over.</summary>
internal sealed record Permit(Entry Entry, bool IsOverride, ReleaseScope? Scope, DateTimeOffset? ValidUntil, IReadOnlySet<string> GoesOver)
{
    public string Word => IsOverride ? "override" : "release";

    /// <summary>The decisions on a hold that may let its step be taken, by (time, record id).</summary>
    public static IReadOnlyList<Permit> Of(Matter matter, HoldKind kind)
    {
        var permits = new List<Permit>();
        foreach (var entry in matter.File.Entries)
        {
            if (entry.Fact is IRelease release && release.Hold == kind && Subject.Unit(release.Unit) == matter.File.Unit)
                permits.Add(new(entry, false, release.Scope, release.ValidUntil, new HashSet<string>()));
            else if (entry.Fact is HoldOverridden over && over.Hold == kind && over.About == matter.File.Unit && Overrides.WhyNone(matter, entry, over) is null)
                permits.Add(new(entry, true, null, null, over.OpenItems.ToHashSet(StringComparer.Ordinal)));
        }

        return permits;
    }

    /// <summary>The unit came back after it: it was for a shipment that is over.</summary>
    public bool IsOfEarlierShipment(Matter matter, HoldKind kind) =>
        kind == HoldKind.Ship && matter.File.Of<UnitReturned>().Any(r => r.Whole.Known.Compare(Entry.At) != TimeOrder.Before);

    public Stand At(Matter matter, HoldKind kind, Moment step) => Stand.At(Entry.At, Endings.Of(matter, kind, Entry, Scope, ValidUntil), step);

    public Stand Now(Matter matter, HoldKind kind) => Stand.Now(matter, Endings.Of(matter, kind, Entry, Scope, ValidUntil));

    /// <summary>Open items it does not go over. A release was given on nothing open; what came since is later evidence.</summary>
    public IEnumerable<OpenItem> NotCovered(IEnumerable<OpenItem> open) =>
        IsOverride ? open.Where(o => Overrides.None(o.Requirement) || !Overrides.GoesOver(GoesOver, o)) : open;
}
