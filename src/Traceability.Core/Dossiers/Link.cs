using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>How a link is followed when a unit's dossier is gathered.</summary>
public enum LinkKind
{
    /// <summary>The record bears on the subject. Not a step from one subject to another.</summary>
    About,

    /// <summary>A physical part or material: heat in cage, lot in batch, batch in unit. Followed all the way.</summary>
    MadeFrom,

    /// <summary>A sample, an instrument, a person: what judged it. Followed one hop, so that a recall does not run through an air meter into the whole plant.</summary>
    JudgedBy,

    /// <summary>Contract, profile, drawing, mix: the rules in force. Followed only along further rules.</summary>
    GovernedBy,
}

/// <summary>
/// One link that a record states. For <see cref="LinkKind.About"/> both ends are the subject itself.
/// <paramref name="Possible"/> marks a link through a storage: it may be so, it need not.
/// </summary>
public readonly record struct Link(Subject From, LinkKind Kind, Subject To, bool Possible = false)
{
    public static Link About(Subject subject) => new(subject, LinkKind.About, subject);
    public static Link MadeFrom(Subject from, Subject to) => new(from, LinkKind.MadeFrom, to);
    public static Link JudgedBy(Subject from, Subject to) => new(from, LinkKind.JudgedBy, to);
    public static Link GovernedBy(Subject from, Subject to) => new(from, LinkKind.GovernedBy, to);
}
