using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>
/// From a dossier to what is true: corrections and withdrawals applied, conflicts and repeats set aside, everything that
/// does not bear on the unit left out. Depends on the set of records alone, never on the order of their arrival.
/// </summary>
public static class Assemble
{
    public static UnitFile Unit(Dossier dossier)
    {
        var setAside = new List<SetAside>();
        var single = DropConflictingIds(dossier.Records, setAside);
        var entries = ApplyChanges(single, setAside);
        entries = MergeBusinessKeys(entries, setAside);
        var reached = Reached(dossier.Unit, entries);
        var kept = entries.Where(e => Bears(e.Links, reached)).ToList();
        kept.Sort(ByTime);
        var changed = kept.Select(e => e.Original.Id).Concat(setAside.Where(s => Bears(s.Record.Links(), reached)).Select(s => s.Record.Id)).ToHashSet();
        var aside = setAside
            .Where(s => Bears(s.Record.Links(), reached) || (Target(s.Record) is { } target && changed.Contains(target)))
            .DistinctBy(s => s.Record.Id).OrderBy(s => s.Evidence).ThenBy(s => s.Record.Sent.ContentHash, StringComparer.Ordinal).ToList();
        return new UnitFile(dossier.Unit, kept, aside);
    }

    private static int ByTime(Entry a, Entry b)
    {
        var byTime = a.At.At.CompareTo(b.At.At);
        return byTime != 0 ? byTime : a.Original.Id.CompareTo(b.Original.Id);
    }

    private static bool Bears(IReadOnlyList<Link> links, HashSet<Subject> reached) =>
        links.Any(l => l.Kind == LinkKind.About && reached.Contains(l.From));

    private static Guid? Target(Record record) => record.Fact switch
    {
        RecordCorrected c => c.Record,
        RecordWithdrawn w => w.Record,
        _ => null,
    };

    // Two contents under one (source, id): nobody can say which is right, so neither counts.
    private static List<Record> DropConflictingIds(IReadOnlyList<Record> records, List<SetAside> setAside)
    {
        var single = new List<Record>(records.Count);
        foreach (var group in records.GroupBy(r => (r.Sent.Source, r.Sent.Id)))
        {
            var versions = group.DistinctBy(r => r.Sent.ContentHash).ToList();
            if (versions.Count == 1)
            {
                var record = versions[0];
                if (record.Fact is null) setAside.Add(new(record, SetAsideKind.Unreadable, record.Unreadable!));
                else single.Add(record);
                continue;
            }

            foreach (var version in versions)
                setAside.Add(new(version, SetAsideKind.Conflict, $"{versions.Count} contents arrived under the one id '{version.Sent.Id}' of {version.Sent.Source}"));
        }

        return single;
    }

    private static List<Entry> ApplyChanges(List<Record> records, List<SetAside> setAside)
    {
        var changes = records.Where(r => Target(r) is not null).ToLookup(r => Target(r)!.Value);
        var entries = new List<Entry>();
        foreach (var original in records.Where(r => Target(r) is null))
        {
            if (Chain(original, changes[original.Id].ToList(), setAside) is { } entry) entries.Add(entry);
        }

        return entries;
    }

    private static Entry? Chain(Record original, List<Record> changes, List<SetAside> setAside)
    {
        var current = new Entry(original.Fact!, original, original, original.OccurredAt, 1);
        var open = changes.ToLookup(VersionOf);
        var seen = 0;
        while (true)
        {
            var here = open[current.Version].ToList();
            seen += here.Count;
            if (here.Count == 0) break;
            if (here.Count > 1) return Conflict($"{here.Count} changes name version {current.Version} of this record");
            var change = here[0];
            if (change.Fact is RecordWithdrawn withdrawn)
            {
                if (seen < changes.Count) return Conflict("a change names a version of this record after it was withdrawn");
                setAside.Add(new(current.Source, SetAsideKind.Withdrawn, withdrawn.Reason));
                return null;
            }

            var corrected = (RecordCorrected)change.Fact!;
            if (!string.Equals(corrected.Type, original.Type, StringComparison.Ordinal)) return Conflict("a correction changes the type of this record");
            setAside.Add(new(current.Source, SetAsideKind.Replaced, corrected.Reason));
            var at = corrected.OccurredAt is { } time ? original.OccurredAt with { At = time } : original.OccurredAt;
            current = new Entry(corrected.Replacement, original, change, at, current.Version + 1);
        }

        return seen == changes.Count ? current : Conflict("a change names a version of this record that is not here");

        Entry? Conflict(string reason)
        {
            setAside.RemoveAll(s => s.Record.Id == original.Id || changes.Exists(c => c.Id == s.Record.Id));
            setAside.Add(new(original, SetAsideKind.Conflict, reason));
            foreach (var change in changes) setAside.Add(new(change, SetAsideKind.Conflict, reason));
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
        var kept = entries.Where(e => e.Fact.BusinessKey is null).ToList();
        foreach (var group in entries.Where(e => e.Fact.BusinessKey is not null).GroupBy(e => (e.Fact.GetType(), e.Fact.BusinessKey)))
        {
            var same = group.OrderBy(e => e.At.At).ThenBy(e => e.Original.Id).ToList();
            var contents = same.Select(e => JsonSerializer.Serialize(e.Fact, e.Fact.GetType(), FactJson.Options)).Distinct(StringComparer.Ordinal).Count();
            if (contents > 1)
            {
                foreach (var entry in same)
                    setAside.Add(new(entry.Source, SetAsideKind.Conflict, $"{contents} different contents for {group.Key.BusinessKey}"));
                continue;
            }

            kept.Add(same[0]);
            foreach (var again in same.Skip(1))
                setAside.Add(new(again.Source, SetAsideKind.SameFactAgain, $"the same content for {group.Key.BusinessKey} as record {same[0].Source.Id}"));
        }

        return kept;
    }

    private static HashSet<Subject> Reached(Subject unit, List<Entry> entries)
    {
        var from = entries.SelectMany(e => e.Links).Where(l => l.Kind != LinkKind.About).ToLookup(l => l.From);
        var seen = new HashSet<(Subject, Links.Reach)> { (unit, Links.Reach.Part) };
        var queue = new Queue<(Subject Subject, Links.Reach Reach)>(seen);
        while (queue.TryDequeue(out var here))
        {
            foreach (var link in from[here.Subject])
            {
                if (Links.Follow(here.Reach, link.Kind) is { } reach && seen.Add((link.To, reach))) queue.Enqueue((link.To, reach));
            }
        }

        return seen.Select(s => s.Item1).ToHashSet();
    }
}
