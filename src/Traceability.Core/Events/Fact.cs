using System.Globalization;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>The frozen name and version of a fact type. The CloudEvents type is "name.vN". Never rename, never reuse.</summary>
[AttributeUsage(AttributeTargets.Class, Inherited = false)]
public sealed class FactAttribute(string name, int version) : Attribute
{
    public string Name { get; } = name;
    public int Version { get; } = version;
    public string Type { get; } = name + ".v" + version.ToString(CultureInfo.InvariantCulture);

    /// <summary>The station role a signed-on person needs to record it.</summary>
    public required string Role { get; init; }

    /// <summary>One sentence for the catalogue and the schema.</summary>
    public required string Summary { get; init; }
}

/// <summary>What a station reports: the content ("data") of one CloudEvent. Immutable; carries its own links and shape rules.</summary>
public interface IFact
{
    /// <summary>The subject whose stream the fact is appended to.</summary>
    Subject About { get; }

    /// <summary>
    /// Everything the fact ties together. Pure. Every <c>From</c> of a link other than About is itself a subject the
    /// fact is about, so that a new link reaches every unit above it.
    /// </summary>
    IEnumerable<Link> Links();

    /// <summary>Shape problems: what makes it unreadable as a fact. Out-of-limits values are not shape problems.</summary>
    IEnumerable<ShapeProblem> Check();

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

/// <summary>Shape checks shared by the facts.</summary>
internal static class Shape
{
    public static IEnumerable<ShapeProblem> Id(string field, string? value, string kind)
    {
        if (!Subject.IsId(value, kind))
            yield return new(field, $"must be the {kind}'s identity, 1 to {Subject.LongestKey - kind.Length - 1} characters without control characters or outer spaces", "Send the identity as it is marked in the plant.");
    }

    public static IEnumerable<ShapeProblem> Text(string field, string? value, int longest)
    {
        if (string.IsNullOrWhiteSpace(value) || value.Length > longest)
            yield return new(field, $"must be a text of 1 to {longest} characters", "Fill it in or shorten it.");
    }

    public static IEnumerable<ShapeProblem> Some<T>(string field, IReadOnlyCollection<T>? values, int most)
    {
        if (values is null || values.Count == 0 || values.Count > most)
            yield return new(field, $"must list 1 to {most} entries", "Send every entry, split larger facts.");
    }

    public static IEnumerable<ShapeProblem> AtMost<T>(string field, IReadOnlyCollection<T>? values, int most)
    {
        if (values is not null && values.Count > most)
            yield return new(field, $"must list at most {most} entries", "Split larger facts.");
    }

    public static IEnumerable<ShapeProblem> Positive(string field, Quantities.Reading value)
    {
        if (value.Value <= 0)
            yield return new(field, "must be greater than 0", "Check the reading and its unit.");
    }

    public static IEnumerable<ShapeProblem> NotNegative(string field, Quantities.Reading value)
    {
        if (value.Value < 0)
            yield return new(field, "must be 0 or more", "Check the reading and its unit.");
    }

    public static IEnumerable<ShapeProblem> Order(string field, DateTimeOffset from, DateTimeOffset to)
    {
        if (to < from)
            yield return new(field, "must not be before its beginning", "Check both times and their offsets.");
    }
}
