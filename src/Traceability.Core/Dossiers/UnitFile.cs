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

/// <summary>What is true of one unit as far as the records of its dossier say: the input of every requirement.</summary>
public sealed class UnitFile
{
    private readonly ILookup<Type, Entry> _byType;

    internal UnitFile(Subject unit, IReadOnlyList<Entry> entries, IReadOnlyList<SetAside> setAside, IReadOnlySet<Subject> reached)
    {
        Unit = unit;
        Reached = reached;
        Entries = entries;
        SetAside = setAside;
        _byType = entries.ToLookup(e => e.Fact.GetType());
    }

    public Subject Unit { get; }

    /// <summary>Everything the unit is made from, was judged by and is governed by, itself included.</summary>
    public IReadOnlySet<Subject> Reached { get; }

    /// <summary>Everything that counts, by (time, record id).</summary>
    public IReadOnlyList<Entry> Entries { get; }

    /// <summary>Everything that does not, with its reason, by record id.</summary>
    public IReadOnlyList<SetAside> SetAside { get; }

    /// <summary>The facts of one type that count, by (time, record id).</summary>
    public IEnumerable<Entry<T>> Of<T>() where T : IFact => _byType[typeof(T)].Select(e => new Entry<T>((T)e.Fact, e));

    /// <summary>The last fact of one type, or null.</summary>
    public Entry<T>? Last<T>() where T : IFact => Of<T>().LastOrDefault();

    /// <summary>How the unit was scheduled; null while that fact is not here.</summary>
    public Entry<UnitScheduled>? Scheduled => Of<UnitScheduled>().LastOrDefault(s => s.Fact.About == Unit);

    public Entry<ContractOpened>? Contract =>
        Scheduled is { } s ? Of<ContractOpened>().LastOrDefault(c => c.Fact.Contract == s.Fact.Contract) : null;

    public Entry<ProfilePublished>? Profile =>
        Contract is { } c ? Of<ProfilePublished>().LastOrDefault(p => p.Fact.Profile == c.Fact.Profile && p.Fact.Version == c.Fact.ProfileVersion) : null;

    /// <summary>The approval of the drawing revision the unit was scheduled to; null while that is not here.</summary>
    public Entry<DrawingApproved>? Drawing =>
        Scheduled is { } s ? Of<DrawingApproved>().LastOrDefault(d => d.Fact.Drawing == s.Fact.Drawing && d.Fact.Revision == s.Fact.Revision) : null;

    public Entry<MixApproved>? Mix =>
        Scheduled is { } s ? Of<MixApproved>().LastOrDefault(m => m.Fact.Mix == s.Fact.Mix) : null;

    /// <summary>The cage in this unit: the one inspected in its form, else the last tied for it.</summary>
    public Entry<CageTied>? Cage
    {
        get
        {
            var inspected = Last<CloseUpInspected>()?.Fact.Cage;
            return inspected is null
                ? Of<CageTied>().LastOrDefault(c => Subject.Unit(c.Fact.Unit) == Unit)
                : Of<CageTied>().LastOrDefault(c => c.Fact.Cage == inspected);
        }
    }

    /// <summary>The placements that put concrete into this unit.</summary>
    public IEnumerable<(Entry<PourPlaced> Pour, Placement Row)> Placements =>
        Of<PourPlaced>().SelectMany(p => p.Fact.Rows.Where(r => Subject.Unit(r.Unit) == Unit).Select(r => (p, r)));

    /// <summary>The batches that are in this unit, by their subject.</summary>
    public IReadOnlySet<Subject> BatchSubjects => Placements.Select(p => p.Row.Batch.Subject).ToHashSet();

    public IEnumerable<Entry<BatchTicketed>> Batches
    {
        get
        {
            var placed = BatchSubjects;
            return Of<BatchTicketed>().Where(b => placed.Contains(b.Fact.About));
        }
    }

    /// <summary>The samples taken from batches that are in this unit.</summary>
    public IEnumerable<Entry<SampleTested>> Samples
    {
        get
        {
            var placed = BatchSubjects;
            return Of<SampleTested>().Where(s => placed.Contains(s.Fact.Batch.Subject));
        }
    }

    /// <summary>Breaks of this unit's cylinders of one purpose.</summary>
    public IEnumerable<(Entry<CylinderBroken> Break, Entry<SampleTested> Sample, CylinderCast Cylinder)> Breaks(CylinderPurpose purpose) =>
        from sample in Samples
        from cylinder in sample.Fact.Cylinders
        where cylinder.Purpose == purpose
        from broken in Of<CylinderBroken>()
        where broken.Fact.Sample == sample.Fact.Sample && broken.Fact.Cylinder == cylinder.Cylinder
        select (broken, sample, cylinder);
}
