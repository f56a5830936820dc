using System.Globalization;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>What stands behind a fact: see each.</summary>
public enum FactKind
{
    /// <summary>What was measured, done or seen at a station, bad news among it. The station's key is enough.</summary>
    Reading,

    /// <summary>
    /// What somebody with a duty decided or certified. It counts only with proof of that person: a sign-on of now, or the PIN. A
    /// station's key alone makes a claim of it.
    /// </summary>
    Act,
}

/// <summary>The frozen name and version of a fact type. The CloudEvents type is "name.vN". Never rename, never reuse.</summary>
[AttributeUsage(AttributeTargets.Class, Inherited = false)]
public sealed class FactAttribute(string name, int version) : Attribute
{
    public string Name { get; } = name;
    public int Version { get; } = version;
    public string Type { get; } = name + ".v" + version.ToString(CultureInfo.InvariantCulture);

    /// <summary>Whether a station's key is enough for it; no type leaves it open.</summary>
    public required FactKind Kind { get; init; }

    /// <summary>The station role a signed-on person needs to record it.</summary>
    public required string Role { get; init; }

    /// <summary>A second role that may record it; null when none may.</summary>
    public string? Also { get; init; }

    /// <summary>One sentence for the catalogue and the schema.</summary>
    public required string Summary { get; init; }
}

/// <summary>What a station reports: the content ("data") of one CloudEvent. Immutable; carries its own links and shape rules.</summary>
public interface IFact
{
    /// <summary>The subject whose stream the fact is appended to.</summary>
    Subject About { get; }

    /// <summary>
    /// Everything the fact ties together. Pure, and never throws for content that was read. Every <c>From</c> of a link other than About is itself a subject the
    /// fact is about, so that a new link reaches every unit above it.
    /// </summary>
    IEnumerable<Link> Links();

    /// <summary>
    /// Contradictions between members: what makes it unreadable as a fact although every member has its shape.
    /// Out-of-limits values are not shape problems.
    /// </summary>
    IEnumerable<ShapeProblem> Check() => [];

    /// <summary>
    /// The business key under which the same fact may arrive under two ids (a batch ticket by HTTP and by file); null when there is none.
    /// </summary>
    string? BusinessKey => null;
}

/// <summary>One thing wrong with the shape of a fact: which field, what the limit is, what to do.</summary>
public sealed record ShapeProblem(string Field, string Limit, string Remedy)
{
    public override string ToString() => $"{Field}: {Limit}. {Remedy}";
}
