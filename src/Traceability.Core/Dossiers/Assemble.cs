using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>
/// From a dossier to what is true: corrections and withdrawals applied, conflicts and repeats set aside, everything that
/// does not bear on the unit left out. Depends on the set of records alone, never on the order of their arrival, and no
/// record that bears on the unit vanishes: it counts, it changed one that counts, or it is set aside with a reason.
/// </summary>
public static class Assemble
{
    public static UnitFile Unit(Dossier dossier)
    {
        var setAside = new List<SetAside>();
        var entries = Changes.Apply(dossier.Records, dossier.Time, setAside);
        entries = MergeBusinessKeys(entries, setAside);
        var reached = Reached(dossier.Unit, entries);
        var kept = entries.Where(e => Bears(e.Links, reached)).ToList();
        kept.Sort(ByTime);
        // A record that was changed, its changes and its twin under one id stay together: one that bears shows them all.
        var families = kept.Select(e => e.Original.Id).Concat(setAside.Where(s => Bears(s.Record.Links(), reached)).Select(s => s.Family)).ToHashSet();
        var aside = setAside.Where(s => families.Contains(s.Family))
            .OrderBy(s => s.Evidence).ThenBy(s => s.Record.Sent.ContentHash, StringComparer.Ordinal).ToList();
        return new UnitFile(dossier.Unit, dossier.Time, kept, aside, reached);
    }

    /// <summary>Of any set of records: those that count, by (time, record id), after corrections; times are the plant's.</summary>
    public static IReadOnlyList<Entry> Counted(IReadOnlyList<Record> records, PlantTime time)
    {
        var setAside = new List<SetAside>();
        var entries = MergeBusinessKeys(Changes.Apply(records, time, setAside), setAside);
        entries.Sort(ByTime);
        return entries;
    }

    private static int ByTime(Entry a, Entry b)
    {
        var byTime = a.At.At.CompareTo(b.At.At);
        return byTime != 0 ? byTime : a.Original.Id.CompareTo(b.Original.Id);
    }

    private static bool Bears(IReadOnlyList<Link> links, Dictionary<Subject, bool> reached)
    {
        foreach (var link in links)
        {
            if (link.Kind == LinkKind.About && reached.ContainsKey(link.From)) return true;
        }

        return false;
    }

    // The same ticket by HTTP and by file is one fact with a visible repeat; two tickets that differ under one number are a conflict.
    private static List<Entry> MergeBusinessKeys(List<Entry> entries, List<SetAside> setAside)
    {
        var kept = new List<Entry>(entries.Count);
        var keyed = new Dictionary<(Type, string), List<Entry>>();
        foreach (var entry in entries)
        {
            if (entry.Fact.BusinessKey is not { } key) kept.Add(entry);
            else if (keyed.TryGetValue((entry.Fact.GetType(), key), out var same)) same.Add(entry);
            else keyed.Add((entry.Fact.GetType(), key), [entry]);
        }

        foreach (var ((_, key), same) in keyed)
        {
            same.Sort(ByTime);
            if (same.Count > 1 && same.Select(Content).Distinct(StringComparer.Ordinal).Count() > 1)
            {
                foreach (var entry in same) setAside.Add(new(entry.Source, SetAsideKind.Conflict, $"different contents were recorded for {key}", entry.Original.Id));
                continue;
            }

            kept.Add(same[0]);
            foreach (var again in same.Skip(1))
                setAside.Add(new(again.Source, SetAsideKind.SameFactAgain, $"the same content for {key} as record {same[0].Source.Id}", again.Original.Id));
        }

        return kept;
    }

    private static string Content(Entry entry) => JsonSerializer.Serialize(entry.Fact, entry.Fact.GetType(), FactJson.Options);

    /// <summary>Everything the unit reaches, and whether by at least one way that is certain.</summary>
    private static Dictionary<Subject, bool> Reached(Subject unit, List<Entry> entries)
    {
        var from = new Dictionary<Subject, List<(Link Link, Entry By)>>();
        foreach (var entry in entries)
        {
            foreach (var link in entry.Links)
            {
                if (link.Kind == LinkKind.About) continue;
                if (from.TryGetValue(link.From, out var links)) links.Add((link, entry));
                else from.Add(link.From, [(link, entry)]);
            }
        }

        var cage = CageIn.Of(unit, entries);
        var storages = new Storages(entries);
        var seen = new HashSet<(Subject, Links.Reach, bool Certain)> { (unit, Links.Reach.Part, true) };
        var queue = new Queue<(Subject Subject, Links.Reach Reach, bool Certain)>(seen);
        void Go(Subject to, Links.Reach reach, bool certain)
        {
            if (seen.Add((to, reach, certain))) queue.Enqueue((to, reach, certain));
        }

        while (queue.TryDequeue(out var here))
        {
            if (!from.TryGetValue(here.Subject, out var links)) continue;
            foreach (var (link, by) in links)
            {
                if (Links.Follow(here.Reach, link.Kind) is not { } reach) continue;
                // What a storage was filled with is reached from what names it, because it depends on when that was.
                if (here.Subject.Kind == "storage" && link.Kind == LinkKind.MadeFrom) continue;
                // A cage that was taken out of the unit again is no part of it.
                if (here.Subject == unit && cage is { } inside && link.To.Kind == "cage" && link.To != inside) continue;
                Go(link.To, reach, here.Certain && !link.Possible);
                if (link.To.Kind == "storage" && link.Kind == LinkKind.MadeFrom)
                {
                    foreach (var lot in storages.Contents(link.To, by.At)) Go(lot.Fact.Lot.Subject, reach, false);
                }
            }
        }

        return seen.GroupBy(s => s.Item1).ToDictionary(g => g.Key, g => g.Any(s => s.Certain));
    }
}
