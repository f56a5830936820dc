using System.Runtime.CompilerServices;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>One fact that counts, after corrections.</summary>
/// <param name="Fact">The content that counts.</param>
/// <param name="Original">The record as first made: who made it and, unless corrected, when.</param>
/// <param name="Source">The record that supplies the content: the original or its newest correction.</param>
public sealed record Entry(IFact Fact, Record Original, Record Source, Moment At, int Version)
{
    public string? Person => Original.Person;

    /// <summary>When it came to be known: a correction is known when it was made.</summary>
    public Moment Known { get; init; } = At;

    /// <summary>Subjects the content is about.</summary>
    public IReadOnlyList<Link> Links { get; } = ReferenceEquals(Original, Source) ? Source.Links() : Dossiers.Links.Of(Fact, Original.Person);
}

public sealed record Entry<T>(T Fact, Entry Whole) where T : IFact
{
    public Guid Id => Whole.Source.Id;
    public Moment At => Whole.At;
    public string? Person => Whole.Person;

    /// <summary>A time inside the content, which the same station's clock wrote, as a moment corrected by that clock's offset.</summary>
    public Moment Clocked(DateTimeOffset stationTime)
    {
        var offset = Whole.Original.Sent.ClockOffsetMs ?? 0;
        return Whole.At with { At = stationTime - TimeSpan.FromMilliseconds(offset) };
    }
}

public enum SetAsideKind
{
    Replaced,
    Withdrawn,
    SameFactAgain,
    Conflict,
    Unreadable,
    /// <summary>A change whose record has not arrived.</summary>
    Waiting,
}

/// <summary>A record that is in the dossier and does not count, with the reason in words.</summary>
/// <param name="Family">Id of the record at the bottom: itself, or the one that it changes or shares its id with.</param>
public sealed record SetAside(Record Record, SetAsideKind Kind, string Reason, Guid Family)
{
    /// <summary>
    /// The id under which findings cite it. Of two contents under one id the one that came first bears the id of the
    /// pair; citing that id for both keeps a judgement independent of which came first.
    /// </summary>
    public Guid Evidence => Record.Sent.RecordId;
}

/// <summary>
/// What is true of one unit as far as the records of its dossier say: the input of every requirement. What requirements ask
/// again and again is worked out once; so one thread at a time uses it.
/// </summary>
public sealed class UnitFile
{
    private readonly ILookup<Type, Entry> _byType;
    private readonly Dictionary<Type, object> _typed = [];
    private readonly Dictionary<string, object?> _once = new(StringComparer.Ordinal);

    private readonly Storages _storages;

    private Lazy<Entry<ProfilePublished>?> _profile;

    internal UnitFile(Subject unit, PlantTime time, IReadOnlyList<Entry> entries, IReadOnlyList<SetAside> setAside, IReadOnlyDictionary<Subject, bool> reached)
    {
        Unit = unit;
        Time = time;
        Reached = reached.Keys.ToHashSet();
        OnlyPossible = reached.Where(r => !r.Value).Select(r => r.Key).ToHashSet();
        _storages = new Storages(entries);
        Entries = entries;
        SetAside = setAside;
        _byType = entries.ToLookup(e => e.Fact.GetType());
        _profile = new(InForce);
    }

    public Subject Unit { get; }

    /// <summary>The plant's clock; every time of a counted fact is already its.</summary>
    public PlantTime Time { get; }

    /// <summary>Everything the unit is made from, was judged by and is governed by, itself included.</summary>
    public IReadOnlySet<Subject> Reached { get; }

    /// <summary>What is reached only through a storage: it may be in the unit, it need not.</summary>
    public IReadOnlySet<Subject> OnlyPossible { get; }

    /// <summary>The fillings whose lot can have been in a storage at a moment.</summary>
    public IEnumerable<Entry<StorageFilled>> Contents(string storage, Moment at) => _storages.Contents(Subject.Storage(storage), at);

    /// <summary>Everything that counts, by (time, record id).</summary>
    public IReadOnlyList<Entry> Entries { get; }

    /// <summary>Everything that does not, with its reason, by record id.</summary>
    public IReadOnlyList<SetAside> SetAside { get; }

    /// <summary>The facts of one type that count, by (time, record id).</summary>
    public IReadOnlyList<Entry<T>> Of<T>() where T : IFact
    {
        if (_typed.TryGetValue(typeof(T), out var known)) return (IReadOnlyList<Entry<T>>)known;
        Entry<T>[] found = [.. _byType[typeof(T)].Select(e => new Entry<T>((T)e.Fact, e))];
        _typed.Add(typeof(T), found);
        return found;
    }

    private T Once<T>(Func<T> find, [CallerMemberName] string name = "")
    {
        if (!_once.TryGetValue(name, out var known)) _once.Add(name, known = find());
        return (T)known!;
    }

    /// <summary>The last fact of one type, or null.</summary>
    public Entry<T>? Last<T>() where T : IFact => Of<T>().LastOrDefault();

    /// <summary>How the unit was scheduled; null while that fact is not here.</summary>
    public Entry<UnitScheduled>? Scheduled => Once(() => Of<UnitScheduled>().LastOrDefault(s => s.Fact.About == Unit));

    /// <summary>The contract and mark it has now: as scheduled, allocated from stock or re-marked, whichever came last. Null for a stock unit.</summary>
    public (string Contract, string Mark)? Assigned => Assignments.Assigned;

    /// <summary>The records by which it came under another contract than it was under before, by (time, record id).</summary>
    public IReadOnlyList<Entry> ContractChanges => Assignments.Changes;

    private ((string Contract, string Mark)? Assigned, IReadOnlyList<Entry> Changes) Assignments => Once(() =>
    {
        (string Contract, string Mark)? assigned = Scheduled is { Fact: { Contract: { } contract } s } ? (contract, s.Mark) : null;
        var changes = new List<Entry>();
        foreach (var entry in Entries)
        {
            var now = entry.Fact switch
            {
                UnitAllocated a when a.About == Unit => (a.Contract, a.Mark),
                UnitRemarked r when r.About == Unit => (r.Contract, r.Mark),
                _ => assigned,
            };
            if (now?.Contract != assigned?.Contract) changes.Add(entry);
            assigned = now;
        }

        return (assigned, (IReadOnlyList<Entry>)changes);
    });

    public Entry<ContractOpened>? Contract =>
        Assigned is { } a ? Of<ContractOpened>().LastOrDefault(c => c.Fact.Contract == a.Contract) : null;

    /// <summary>
    /// The profile in force, with the limits that were confirmed since it was published: the one its contract adopted last;
    /// of a stock unit the one it was cast to.
    /// </summary>
    public Entry<ProfilePublished>? Profile => _profile.Value;

    private Entry<ProfilePublished>? InForce()
    {
        var named = Assigned is { } a
            ? Of<ProfileAdopted>().LastOrDefault(p => p.Fact.Contract == a.Contract) is { } adopted ? (adopted.Fact.Profile, adopted.Fact.Version)
                : Contract is { } c ? (c.Fact.Profile, c.Fact.ProfileVersion) : default
            : Scheduled is { Fact: { StockProfile: { } stock, StockProfileVersion: { } version } } ? (stock, version) : default;
        var published = named == default ? null : Of<ProfilePublished>().LastOrDefault(p => p.Fact.Profile == named.Item1 && p.Fact.Version == named.Item2);
        return published is null ? null : Confirmations.Apply(published, Of<ProfileConfirmed>());
    }

    /// <summary>The same unit as it would be under another profile, to be judged beside this one.</summary>
    /// <param name="profile">The records of that profile version: its publication and its confirmations.</param>
    /// <returns>Null when the version's publication is not among them.</returns>
    public UnitFile? Under(IReadOnlyList<Record> profile)
    {
        var counted = Assemble.Counted(profile, Time);
        IEnumerable<Entry<T>> All<T>() where T : IFact => counted.Where(e => e.Fact is T).Select(e => new Entry<T>((T)e.Fact, e));
        if (All<ProfilePublished>().LastOrDefault() is not { } published) return null;
        var other = (UnitFile)MemberwiseClone();
        var confirmed = Confirmations.Apply(published, All<ProfileConfirmed>());
        other._profile = new(() => confirmed);
        return other;
    }

    /// <summary>The approval of the drawing revision the unit was scheduled to; null while that is not here.</summary>
    public Entry<DrawingApproved>? Drawing =>
        Scheduled is { } s ? Of<DrawingApproved>().LastOrDefault(d => d.Fact.Drawing == s.Fact.Drawing && d.Fact.Revision == s.Fact.Revision) : null;

    public Entry<MixApproved>? Mix =>
        Scheduled is { } s ? Of<MixApproved>().LastOrDefault(m => m.Fact.Mix == s.Fact.Mix) : null;

    /// <summary>The cage in this unit: the last set, swapped in or inspected in its form, else the last tied for it.</summary>
    public Entry<CageTied>? Cage => Once(() =>
        CageSubject is { } cage ? Of<CageTied>().LastOrDefault(c => c.Fact.About == cage) : null);

    /// <summary>That cage, whether or not the record that ties it is here.</summary>
    public Subject? CageSubject => CageIn.Of(Unit, Entries);

    /// <summary>The placements that put concrete into this unit.</summary>
    public IReadOnlyList<(Entry<PourPlaced> Pour, Placement Row)> Placements => Once(() =>
        Of<PourPlaced>().SelectMany(p => p.Fact.Rows.Where(r => Subject.Unit(r.Unit) == Unit).Select(r => (p, r))).ToArray());

    /// <summary>The batches that are in this unit, by their subject.</summary>
    public IReadOnlySet<Subject> BatchSubjects => Once(() => Placements.Select(p => p.Row.Batch.Subject).ToHashSet());

    public IReadOnlyList<Entry<BatchTicketed>> Batches => Once(() => Of<BatchTicketed>().Where(b => BatchSubjects.Contains(b.Fact.About)).ToArray());

    /// <summary>The samples taken from batches that are in this unit.</summary>
    public IReadOnlyList<Entry<SampleTested>> Samples => Once(() => Of<SampleTested>().Where(s => BatchSubjects.Contains(s.Fact.Batch.Subject)).ToArray());

    /// <summary>The samples that stand for this unit: from its own batches, or of a sampling lot it belongs to.</summary>
    public IReadOnlyList<Entry<SampleTested>> RepresentingSamples => Once(() =>
    {
        var lots = Of<SamplingLotDefined>().Where(l => l.Fact.Units.Any(u => Subject.Unit(u) == Unit)).Select(l => l.Fact.SamplingLot).ToHashSet(StringComparer.Ordinal);
        return Of<SampleTested>().Where(s => BatchSubjects.Contains(s.Fact.Batch.Subject) || (s.Fact.SamplingLot is { } lot && lots.Contains(lot))).ToArray();
    });

    /// <summary>The samples of the unit's mix among its records, and their breaks: what the means of tests in a row are made of.</summary>
    public IEnumerable<Entry> Series
    {
        get
        {
            var mix = Scheduled?.Fact.Mix;
            var batches = Of<BatchTicketed>().Where(b => b.Fact.Mix == mix).Select(b => b.Fact.About).ToHashSet();
            var samples = Of<SampleTested>().Where(s => batches.Contains(s.Fact.Batch.Subject)).Select(s => s.Fact.About).ToHashSet();
            return Entries.Where(e => e.Fact is SampleTested or CylinderBroken && samples.Contains(e.Fact.About));
        }
    }

    /// <summary>Breaks of the cylinders of one purpose that stand for this unit.</summary>
    public IEnumerable<(Entry<CylinderBroken> Break, Entry<SampleTested> Sample, CylinderCast Cylinder)> Breaks(CylinderPurpose purpose) =>
        from sample in RepresentingSamples
        from cylinder in sample.Fact.Cylinders
        where cylinder.Purpose == purpose
        from broken in Of<CylinderBroken>()
        where broken.Fact.Sample == sample.Fact.Sample && broken.Fact.Cylinder == cylinder.Cylinder
        select (broken, sample, cylinder);
}
