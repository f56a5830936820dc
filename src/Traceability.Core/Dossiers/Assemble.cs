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
        var single = SetConflictsAside(dossier.Records, setAside);
        var entries = ApplyChanges(single, setAside);
        entries = MergeBusinessKeys(entries, setAside);
        var reached = Reached(dossier.Unit, entries);
        var kept = entries.Where(e => Bears(e.Links, reached)).ToList();
        kept.Sort(ByTime);
        // A record that was changed, its changes and its twin under one id stay together: one that bears shows them all.
        var families = kept.Select(e => e.Original.Id).Concat(setAside.Where(s => Bears(s.Record.Links(), reached)).Select(s => Family(s.Record))).ToHashSet();
        var aside = setAside.Where(s => families.Contains(Family(s.Record)))
            .OrderBy(s => s.Evidence).ThenBy(s => s.Record.Sent.ContentHash, StringComparer.Ordinal).ToList();
        return new UnitFile(dossier.Unit, kept, aside, reached);
    }

    /// <summary>Of any set of records: those that count, by (time, record id), after corrections.</summary>
    public static IReadOnlyList<Entry> Counted(IReadOnlyList<Record> records)
    {
        var setAside = new List<SetAside>();
        var entries = MergeBusinessKeys(ApplyChanges(SetConflictsAside(records, setAside), setAside), setAside);
        entries.Sort(ByTime);
        return entries;
    }

    private static int ByTime(Entry a, Entry b)
    {
        var byTime = a.At.At.CompareTo(b.At.At);
        return byTime != 0 ? byTime : a.Original.Id.CompareTo(b.Original.Id);
    }

    private static bool Bears(IReadOnlyList<Link> links, HashSet<Subject> reached)
    {
        foreach (var link in links)
        {
            if (link.Kind == LinkKind.About && reached.Contains(link.From)) return true;
        }

        return false;
    }

    private static Guid? Target(Record record) => record.Fact switch
    {
        RecordCorrected c => c.Record,
        RecordWithdrawn w => w.Record,
        _ => null,
    };

    private static Guid Family(Record record) => Target(record) ?? record.Sent.RecordId;

    // Two contents under one (source, id): nobody can say which is right, so neither counts. What is right is recorded
    // again under an id of its own. The words are the same whichever came first and however many there are.
    private static List<Record> SetConflictsAside(IReadOnlyList<Record> records, List<SetAside> setAside)
    {
        var byId = new Dictionary<Guid, List<Record>>(records.Count);
        foreach (var record in records)
        {
            if (!byId.TryGetValue(record.Sent.RecordId, out var same)) byId.Add(record.Sent.RecordId, [record]);
            else if (!same.Exists(r => r.Sent.ContentHash == record.Sent.ContentHash)) same.Add(record);
        }

        var single = new List<Record>(byId.Count);
        foreach (var same in byId.Values)
        {
            if (same.Count == 1 && !same[0].IsConflict)
            {
                if (same[0].Fact is null) setAside.Add(new(same[0], SetAsideKind.Unreadable, same[0].Unreadable!));
                else single.Add(same[0]);
                continue;
            }

            foreach (var record in same)
                setAside.Add(new(record, SetAsideKind.Conflict, $"different contents arrived under the one id '{record.Sent.Id}' of {record.Sent.Source}"));
        }

        return single;
    }

    private static List<Entry> ApplyChanges(List<Record> records, List<SetAside> setAside)
    {
        var lost = setAside.ToLookup(s => s.Record.Id);
        var changes = new Dictionary<Guid, List<Record>>();
        foreach (var change in records)
        {
            if (Target(change) is not { } target) continue;
            if (changes.TryGetValue(target, out var same)) same.Add(change);
            else changes.Add(target, [change]);
        }

        var entries = new List<Entry>(records.Count);
        foreach (var original in records)
        {
            if (Target(original) is not null) continue;
            if (!changes.Remove(original.Id, out var ofThis)) entries.Add(new Entry(original.Fact!, original, original, original.OccurredAt, 1));
            else if (Chain(original, ofThis, setAside) is { } entry) entries.Add(entry);
        }

        if (changes.Count == 0) return entries;
        var changeIds = records.Where(r => Target(r) is not null).Select(r => r.Id).ToHashSet();
        foreach (var (target, unapplied) in changes)
        {
            var (kind, reason) = changeIds.Contains(target) ? (SetAsideKind.Conflict, "it names a correction or a withdrawal, not the record itself")
                : lost[target].FirstOrDefault() is { } gone ? (gone.Kind, gone.Kind == SetAsideKind.Unreadable ? "the record it changes cannot be read" : "the record it changes is itself in conflict")
                : (SetAsideKind.Waiting, "the record it changes is not here");
            foreach (var change in unapplied) setAside.Add(new(change, kind, reason));
        }

        return entries;
    }

    private static Entry? Chain(Record original, List<Record> changes, List<SetAside> setAside)
    {
        var current = new Entry(original.Fact!, original, original, original.OccurredAt, 1);
        var replaced = new List<SetAside>();
        var seen = 0;
        while (changes.FindAll(c => VersionOf(c) == current.Version) is { Count: > 0 } here)
        {
            seen += here.Count;
            if (here.Count > 1) return Conflict("two changes name one version of this record");
            var change = here[0];
            if (change.Fact is RecordWithdrawn withdrawn)
            {
                if (seen < changes.Count) return Conflict("a change names a version of this record after it was withdrawn");
                setAside.AddRange(replaced);
                setAside.Add(new(current.Source, SetAsideKind.Withdrawn, withdrawn.Reason));
                return null;
            }

            var corrected = (RecordCorrected)change.Fact!;
            if (!string.Equals(corrected.Type, original.Type, StringComparison.Ordinal)) return Conflict("a correction changes the type of this record");
            replaced.Add(new(current.Source, SetAsideKind.Replaced, corrected.Reason));
            var at = corrected.OccurredAt is { } time ? original.OccurredAt with { At = time } : current.At;
            current = new Entry(corrected.Replacement, original, change, at, current.Version + 1);
        }

        if (seen < changes.Count) return Conflict("a change names a version of this record that is not here");
        setAside.AddRange(replaced);
        return current;

        Entry? Conflict(string reason)
        {
            setAside.Add(new(original, SetAsideKind.Conflict, reason));
            setAside.AddRange(changes.Select(change => new SetAside(change, SetAsideKind.Conflict, reason)));
            return null;
        }
    }

    private static int VersionOf(Record change) => change.Fact switch
    {
        RecordCorrected c => c.ReplacedVersion,
        RecordWithdrawn w => w.WithdrawnVersion,
        _ => 0,
    };

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
                foreach (var entry in same) setAside.Add(new(entry.Source, SetAsideKind.Conflict, $"different contents were recorded for {key}"));
                continue;
            }

            kept.Add(same[0]);
            foreach (var again in same.Skip(1))
                setAside.Add(new(again.Source, SetAsideKind.SameFactAgain, $"the same content for {key} as record {same[0].Source.Id}"));
        }

        return kept;
    }

    private static string Content(Entry entry) => JsonSerializer.Serialize(entry.Fact, entry.Fact.GetType(), FactJson.Options);

    private static HashSet<Subject> Reached(Subject unit, List<Entry> entries)
    {
        var from = new Dictionary<Subject, List<Link>>();
        foreach (var link in entries.SelectMany(e => e.Links))
        {
            if (link.Kind == LinkKind.About) continue;
            if (from.TryGetValue(link.From, out var links)) links.Add(link);
            else from.Add(link.From, [link]);
        }

        var seen = new HashSet<(Subject, Links.Reach)> { (unit, Links.Reach.Part) };
        var queue = new Queue<(Subject Subject, Links.Reach Reach)>(seen);
        while (queue.TryDequeue(out var here))
        {
            if (!from.TryGetValue(here.Subject, out var links)) continue;
            foreach (var link in links)
            {
                if (Links.Follow(here.Reach, link.Kind) is { } reach && seen.Add((link.To, reach))) queue.Enqueue((link.To, reach));
            }
        }

        return [.. seen.Select(s => s.Item1)];
    }
}
