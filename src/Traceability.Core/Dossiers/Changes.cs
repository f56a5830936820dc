using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>
/// Corrections and withdrawals applied to the records they name. The rules, each on the set of records alone:
/// <list type="bullet">
/// <item>Two contents under one (source, id) are a conflict and neither counts. A withdrawal of that id settles it for
/// all of them; what is right is then recorded again under an id of its own.</item>
/// <item>Versions are numbered from 1. A correction replaces the version it names and makes the next; a withdrawal ends
/// the record. Two changes of one version, or one of a version that is not there, are a conflict of the whole record.</item>
/// <item>A correction or a withdrawal can itself be withdrawn, as version 1; then it is as if it had not been made. That
/// settles a conflict of changes. It cannot be corrected.</item>
/// </list>
/// </summary>
internal sealed class Changes
{
    private readonly List<SetAside> _setAside;
    private readonly List<Record> _originals = [];
    private readonly Dictionary<Guid, Record> _changes = [];
    private readonly Dictionary<Guid, List<Record>> _namedBy = [];
    private readonly List<List<Record>> _unusable = [];

    private readonly PlantTime _time;

    private Changes(IReadOnlyList<Record> records, PlantTime time, List<SetAside> setAside)
    {
        _time = time;
        _setAside = setAside;
        var byId = new Dictionary<Guid, List<Record>>(records.Count);
        foreach (var record in records)
        {
            if (!byId.TryGetValue(record.Sent.RecordId, out var same)) byId.Add(record.Sent.RecordId, [record]);
            else if (!same.Exists(r => r.Sent.ContentHash == record.Sent.ContentHash)) same.Add(record);
        }

        foreach (var same in byId.Values)
        {
            var record = same[0];
            if (same.Count > 1 || record.IsConflict || record.Fact is null) _unusable.Add(same);
            else if (Target(record) is { } target) AddChange(record, target);
            else _originals.Add(record);
        }
    }

    /// <summary>What counts after all changes. Everything that does not is added to the set-aside list.</summary>
    public static List<Entry> Apply(IReadOnlyList<Record> records, PlantTime time, List<SetAside> setAside)
    {
        var changes = new Changes(records, time, setAside);
        changes.Void();
        changes.SetUnusableAside();
        var entries = new List<Entry>(changes._originals.Count);
        foreach (var original in changes._originals)
        {
            if (changes.Take(original.Id) is not { Count: > 0 } ofThis) entries.Add(changes.First(original));
            else if (changes.Chain(original, ofThis) is { } entry) entries.Add(entry);
        }

        changes.SetLeftOversAside();
        return entries;
    }

    private static Guid? Target(Record record) => record.Fact switch
    {
        RecordCorrected c => c.Record,
        RecordWithdrawn w => w.Record,
        _ => null,
    };

    private static int VersionOf(Record change) => change.Fact switch
    {
        RecordCorrected c => c.ReplacedVersion,
        RecordWithdrawn w => w.WithdrawnVersion,
        _ => 0,
    };

    private static bool WithdrawsWhole(Record change) => change.Fact is RecordWithdrawn { WithdrawnVersion: 1 };

    private void AddChange(Record change, Guid target)
    {
        _changes.Add(change.Id, change);
        if (_namedBy.TryGetValue(target, out var same)) same.Add(change);
        else _namedBy.Add(target, [change]);
    }

    private List<Record>? Take(Guid target) => _namedBy.Remove(target, out var changes) ? changes : null;

    /// <summary>The record at the bottom of a change.</summary>
    private Guid Family(Record record)
    {
        // Ids can be computed beforehand, so changes could name each other in a ring; the number of changes bounds the walk.
        for (var steps = 0; Target(record) is { } target; steps++)
        {
            if (steps == _changes.Count || !_changes.TryGetValue(target, out var below)) return target;
            record = below;
        }

        return record.Sent.RecordId;
    }

    // Takes the withdrawn changes out, and with them the withdrawals that did it.
    private void Void()
    {
        var gone = new List<(Record Change, RecordWithdrawn By)>();
        var applied = new HashSet<Guid>();
        foreach (var change in _changes.Values)
        {
            if (!_namedBy.TryGetValue(change.Id, out var naming)) continue;
            var by = naming.Where(n => WithdrawsWhole(n) && !IsWithdrawn(n, 0)).ToList();
            if (by.Count == 0) continue;
            gone.Add((change, (RecordWithdrawn)by.MinBy(n => n.Id)!.Fact!));
            applied.UnionWith(by.Select(n => n.Id));
        }

        foreach (var (change, by) in gone) _setAside.Add(new(change, SetAsideKind.Withdrawn, by.Reason, Family(change)));
        applied.UnionWith(gone.Select(g => g.Change.Id));
        if (applied.Count == 0) return;
        foreach (var target in _namedBy.Keys.ToList())
        {
            if (_namedBy[target].RemoveAll(c => applied.Contains(c.Id)) > 0 && _namedBy[target].Count == 0) _namedBy.Remove(target);
        }
    }

    private bool IsWithdrawn(Record change, int depth) =>
        depth <= _changes.Count && _namedBy.TryGetValue(change.Id, out var naming) && naming.Exists(n => WithdrawsWhole(n) && !IsWithdrawn(n, depth + 1));

    private void SetUnusableAside()
    {
        foreach (var same in _unusable)
        {
            var id = same[0].Sent.RecordId;
            var settled = _namedBy.TryGetValue(id, out var naming) ? naming.Where(WithdrawsWhole).MinBy(n => n.Id) : null;
            if (settled is not null) naming!.RemoveAll(WithdrawsWhole);
            foreach (var record in same)
            {
                // The words are the same whichever came first and however many there are.
                _setAside.Add(settled is not null ? new(record, SetAsideKind.Withdrawn, ((RecordWithdrawn)settled.Fact!).Reason, Family(record))
                    : same.Count == 1 && !record.IsConflict ? new(record, SetAsideKind.Unreadable, record.Unreadable!, Family(record))
                    : new(record, SetAsideKind.Conflict, $"different contents arrived under the one id '{record.Sent.Id}' of {record.Sent.Source}", Family(record)));
            }
        }
    }

    private Entry First(Record original) => new(_time.Local(original.Fact!), original, original, _time.Local(original.OccurredAt), 1);

    private Entry? Chain(Record original, List<Record> changes)
    {
        var current = First(original);
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
                _setAside.AddRange(replaced);
                _setAside.Add(new(current.Source, SetAsideKind.Withdrawn, withdrawn.Reason, original.Id));
                return null;
            }

            var corrected = (RecordCorrected)change.Fact!;
            if (!string.Equals(corrected.Type, original.Type, StringComparison.Ordinal)) return Conflict("a correction changes the type of this record");
            replaced.Add(new(current.Source, SetAsideKind.Replaced, corrected.Reason, original.Id));
            var at = corrected.OccurredAt is { } time ? original.OccurredAt with { At = _time.Local(time) } : current.At;
            current = new Entry(_time.Local(corrected.Replacement), original, change, at, current.Version + 1) { Known = change.OccurredAt.At > at.At ? _time.Local(change.OccurredAt) : at };
        }

        if (seen < changes.Count) return Conflict("a change names a version of this record that is not here");
        _setAside.AddRange(replaced);
        return current;

        Entry? Conflict(string reason)
        {
            _setAside.Add(new(original, SetAsideKind.Conflict, reason, original.Id));
            _setAside.AddRange(changes.Select(change => new SetAside(change, SetAsideKind.Conflict, reason, original.Id)));
            return null;
        }
    }

    private void SetLeftOversAside()
    {
        var unusable = _unusable.SelectMany(same => same.Select(r => r.Id).Append(same[0].Sent.RecordId)).ToHashSet();
        foreach (var (target, changes) in _namedBy)
        {
            var (kind, reason) = _changes.ContainsKey(target) ? (SetAsideKind.Conflict, "it names a correction or a withdrawal, which can only be withdrawn as version 1")
                : unusable.Contains(target) ? (SetAsideKind.Conflict, "the record it changes cannot be changed, only withdrawn by the id its contents share")
                : (SetAsideKind.Waiting, "the record it changes is not here");
            foreach (var change in changes) _setAside.Add(new(change, kind, reason, Family(change)));
        }
    }
}
