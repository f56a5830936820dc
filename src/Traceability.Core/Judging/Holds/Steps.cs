using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

/// <summary>A step that a hold stands before, as it was taken, with the record that says so.</summary>
internal readonly record struct Step(Moment At, Guid Record);

internal static class Steps
{
    /// <summary>
    /// The step as it stands now; null while it was not taken. A unit that came back has not been shipped again: its ship
    /// hold begins anew.
    /// </summary>
    public static Step? Now(HoldKind kind, UnitFile file)
    {
        switch (kind)
        {
            // What the tying hold asks is of the tied cage: its step puts that cage into a form.
            case HoldKind.Tying when file.Entries.FirstOrDefault(e => IsInside(e, file, inspected: false)) is { } set:
                return new(set.At, set.Source.Id);
            case HoldKind.Tying when file.Entries.FirstOrDefault(e => IsInside(e, file, inspected: true)) is { } seen:
                return new(seen.At, seen.Source.Id);
            case HoldKind.CloseUp when file.Last<PrePourInspected>() is { } closed:
                return new(closed.At, closed.Id);
            case HoldKind.Pour or HoldKind.Place when file.Placements.Any():
                // The first concrete in the unit, whichever pour was reported first.
                return First(file.Placements.Select(p => p.Pour));
            case HoldKind.Strip when file.Of<UnitStripped>().FirstOrDefault() is { } stripped:
                return new(stripped.At, stripped.Id);
            case HoldKind.Ship:
                return Shipments(file) is var (steps, away) && away ? steps[^1] : null;
            default:
                return null;
        }
    }

    /// <summary>
    /// The placing that a finding is about: of the batch that its subject names, or that the named sample is of, and else the
    /// first concrete in the unit.
    /// </summary>
    public static Step? Placing(string subject, UnitFile file)
    {
        var words = subject.Split(' ');
        var batches = file.Placements.Select(p => p.Row.Batch.Subject).Where(b => words.Contains(b.Key))
            .Concat(file.Of<SampleTested>().Where(s => words.Contains(s.Fact.About.Key)).Select(s => s.Fact.Batch.Subject)).ToHashSet();
        var own = file.Placements.Where(p => batches.Contains(p.Row.Batch.Subject) || words.Contains(p.Pour.Fact.About.Key)).ToList();
        return own.Count > 0 ? First(own.Select(p => p.Pour)) : Now(HoldKind.Place, file);
    }

    private static Step First(IEnumerable<Entry<PourPlaced>> pours) =>
        pours.Select(p => new Step(p.Clocked(p.Fact.StartedAt), p.Id)).OrderBy(p => p.At.At).ThenBy(p => p.Record).First();

    /// <summary>Shipments that a return ended: they cannot be released any more, and one without a release stays a breach.</summary>
    public static IEnumerable<Step> Before(HoldKind kind, UnitFile file)
    {
        if (kind != HoldKind.Ship) return [];
        var (steps, away) = Shipments(file);
        return away ? steps.SkipLast(1) : steps;
    }

    /// <summary>The facts of one type about the shipment of now: those from before a return were of another. Where the clocks cannot tell, it was.</summary>
    public static IEnumerable<Entry<T>> OfThisShipment<T>(UnitFile file) where T : IFact
    {
        var back = file.Of<UnitReturned>().LastOrDefault();
        return file.Of<T>().Where(f => back is null || f.At.Compare(back.At) == TimeOrder.After);
    }

    private static bool IsInside(Entry entry, UnitFile file, bool inspected) => entry.Fact.About == file.Unit && entry.Fact switch
    {
        CageSet set => !inspected && Subject.Cage(set.Cage) == file.CageSubject,
        CageSwapped swapped => !inspected && Subject.Cage(swapped.CageIn) == file.CageSubject,
        CloseUpInspected seen => inspected && Subject.Cage(seen.Cage) == file.CageSubject,
        _ => false,
    };

    private static (List<Step> Steps, bool Away) Shipments(UnitFile file)
    {
        var steps = new List<Step>();
        var away = false;
        foreach (var entry in file.Entries)
        {
            if (entry.Fact is UnitReturned) away = false;
            else if (entry.Fact is UnitShipped && !away)
            {
                steps.Add(new(entry.At, entry.Source.Id));
                away = true;
            }
        }

        return (steps, away);
    }
}
