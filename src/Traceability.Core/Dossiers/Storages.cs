using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>
/// What can have been in a storage at a moment: every lot filled in before it, unless the storage was certainly emptied in
/// between. Where two stations' clocks cannot tell the order, the lot stays possible.
/// </summary>
internal sealed class Storages(IReadOnlyList<Entry> entries)
{
    private readonly ILookup<Subject, Entry<StorageFilled>> _filled =
        entries.Where(e => e.Fact is StorageFilled).Select(e => new Entry<StorageFilled>((StorageFilled)e.Fact, e)).ToLookup(e => e.Fact.About);

    private readonly ILookup<Subject, Moment> _emptied = entries.Where(e => e.Fact is StorageEmptied).ToLookup(e => e.Fact.About, e => e.At);

    public IEnumerable<Entry<StorageFilled>> Contents(Subject storage, Moment at) =>
        _filled[storage].Where(f => f.At.Compare(at) != TimeOrder.After
            && !_emptied[storage].Any(e => f.At.Compare(e) == TimeOrder.Before && e.Compare(at) == TimeOrder.Before));
}

/// <summary>Which cage is in a unit: the last that was set, swapped in or inspected in its form; while none was, the last tied for it.</summary>
internal static class CageIn
{
    public static Subject? Of(Subject unit, IEnumerable<Entry> entries)
    {
        Entry? tied = null, inside = null;
        foreach (var entry in entries)
        {
            switch (entry.Fact)
            {
                case CageTied fact when Subject.Unit(fact.Unit) == unit:
                    if (Later(entry, tied)) tied = entry;
                    break;
                case CloseUpInspected or CageSet or CageSwapped when entry.Fact.About == unit:
                    if (Later(entry, inside)) inside = entry;
                    break;
            }
        }

        return (inside ?? tied)?.Fact switch
        {
            CloseUpInspected fact => Subject.Cage(fact.Cage),
            CageSet fact => Subject.Cage(fact.Cage),
            CageSwapped fact => Subject.Cage(fact.CageIn),
            CageTied fact => fact.About,
            _ => null,
        };
    }

    // By (time, record id), as everywhere.
    private static bool Later(Entry entry, Entry? than)
    {
        if (than is null) return true;
        var order = entry.At.At.CompareTo(than.At.At);
        return order > 0 || (order == 0 && entry.Original.Id.CompareTo(than.Original.Id) > 0);
    }
}
