using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>What a record ties together: the rows of the link index. Pure.</summary>
public static class Links
{
    /// <summary>
    /// The links a fact states, its own subject first, without repeats; the person who recorded it judges its subject,
    /// unless that is a person: who read in a certificate judges nobody's work.
    /// An index may name too many records; what is true after corrections is derived in <see cref="Assemble"/>.
    /// </summary>
    public static IReadOnlyList<Link> Of(IFact fact, string? person = null)
    {
        var links = new List<Link>();
        var seen = new HashSet<Link>();
        void Add(Link link)
        {
            if (link.Kind != LinkKind.About && seen.Add(Link.About(link.From))) links.Add(Link.About(link.From));
            if (seen.Add(link)) links.Add(link);
        }

        Add(Link.About(fact.About));
        foreach (var link in fact.Links()) Add(link);
        if (person is not null && Subject.IsId(person, "person") && fact.About.Kind is not ("record" or "person"))
        {
            Add(Link.JudgedBy(fact.About, Subject.Person(person)));
            // Whether the person speaks for the agency is asked of every unit it acted on.
            foreach (var unit in fact is IAgencyAct act ? act.Acted : []) Add(Link.JudgedBy(unit, Subject.Person(person)));
        }

        // Who spoke on the telephone is not who wrote it down.
        if (fact is AgencyHoldReleased { Telephone: { } call }) Add(Link.JudgedBy(fact.About, Subject.Person(call.Speaker)));
        return links;
    }

    /// <summary>
    /// The links of a record: those of its fact. The second content under one id is about the first one too, so that
    /// nobody finds the one without the other.
    /// </summary>
    /// <param name="id">The record's own id, which differs from the event's when other content came first.</param>
    public static IReadOnlyList<Link> OfRecord(IFact? fact, CloudEvent sent, Guid id)
    {
        IReadOnlyList<Link> stated = fact is null ? [] : Of(fact, sent.Person);
        return id == sent.RecordId ? stated : [.. stated, Link.About(Subject.Record(sent.RecordId))];
    }

    /// <summary>How a subject was reached decides which links lead on from it.</summary>
    public enum Reach { Part, Rule, Judge }

    /// <summary>
    /// The step a link allows from a subject reached in one way; null when it leads nowhere. Parts lead to parts, to the
    /// rules that govern them and to what judged them; rules lead to rules; judges to what judged them. Always downwards:
    /// from a unit to an air meter, never from the air meter to other units.
    /// </summary>
    public static Reach? Follow(Reach reached, LinkKind kind) => (reached, kind) switch
    {
        (Reach.Part, LinkKind.MadeFrom) => Reach.Part,
        (Reach.Part or Reach.Rule, LinkKind.GovernedBy) => Reach.Rule,
        (Reach.Part or Reach.Judge, LinkKind.JudgedBy) => Reach.Judge,
        _ => null,
    };
}
