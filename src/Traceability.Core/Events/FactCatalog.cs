using System.Reflection;
using System.Text.Json;

namespace Traceability.Core.Events;

/// <summary>One entry of the vocabulary.</summary>
public sealed record FactType(string Type, string Name, int Version, FactKind Kind, string Role, string? Also, string Summary, Type Clr)
{
    /// <summary>Roles that may record it.</summary>
    public IReadOnlyList<string> Roles { get; } = Also is null ? [Role] : [Role, Also];

    /// <summary>What its content looks like.</summary>
    public FactShape Shape { get; } = FactShape.Of(Clr);
}

/// <summary>Every fact type the service knows, found by their <see cref="FactAttribute"/>.</summary>
public static class FactCatalog
{
    public static IReadOnlyDictionary<string, FactType> All { get; } = Find();

    private static readonly IReadOnlyDictionary<Type, FactType> ByClr = All.Values.ToDictionary(f => f.Clr);

    private static readonly IReadOnlyDictionary<string, int> Newest =
        All.Values.GroupBy(f => f.Name).ToDictionary(g => g.Key, g => g.Max(f => f.Version), StringComparer.Ordinal);

    public static FactType Of(IFact fact) => ByClr[fact.GetType()];

    public static FactType Of<T>() where T : IFact => ByClr[typeof(T)];

    /// <summary>Whether a type is known by name in another version than those read here, for example from a kiosk not yet updated.</summary>
    public static bool IsOtherVersion(string type)
    {
        var dot = type.LastIndexOf(".v", StringComparison.Ordinal);
        return dot > 0 && !All.ContainsKey(type) && Newest.ContainsKey(type[..dot]);
    }

    /// <summary>The type whose name is written most like another; null when none is near.</summary>
    public static string? Nearest(string type) => All.Keys.Select(k => (Type: k, Far: Distance(k, type))).Where(n => n.Far <= Math.Max(2, n.Type.Length / 5))
        .OrderBy(n => n.Far).ThenBy(n => n.Type, StringComparer.Ordinal).Select(n => n.Type).FirstOrDefault();

    // Letters to put in, leave out or exchange (Levenshtein).
    private static int Distance(string one, string other)
    {
        if (Math.Abs(one.Length - other.Length) > one.Length / 5 + 2) return int.MaxValue;
        var row = Enumerable.Range(0, other.Length + 1).ToArray();
        for (var i = 1; i <= one.Length; i++)
        {
            var corner = row[0];
            row[0] = i;
            for (var j = 1; j <= other.Length; j++)
                (corner, row[j]) = (row[j], Math.Min(Math.Min(row[j], row[j - 1]) + 1, corner + (one[i - 1] == other[j - 1] ? 0 : 1)));
        }

        return row[^1];
    }

    /// <summary>Reads the content of a fact.</summary>
    /// <exception cref="FactShapeException">The content does not have the shape of its type; every problem names its field.</exception>
    public static IFact Read(FactType type, JsonElement data)
    {
        var problems = new List<ShapeProblem>();
        type.Shape.Check(data, "data", problems);
        if (problems.Count > 0) throw new FactShapeException(problems);
        var fact = (IFact)data.Deserialize(type.Clr, FactJson.Options)!;
        problems.AddRange(fact.Check());
        return problems.Count == 0 ? fact : throw new FactShapeException(problems);
    }

    public static JsonElement Write(IFact fact) => JsonSerializer.SerializeToElement(fact, fact.GetType(), FactJson.Options);

    private static Dictionary<string, FactType> Find()
    {
        var found = new Dictionary<string, FactType>(StringComparer.Ordinal);
        foreach (var clr in typeof(FactCatalog).Assembly.GetTypes())
        {
            if (clr.GetCustomAttribute<FactAttribute>() is not { } fact) continue;
            if (!clr.IsAssignableTo(typeof(IFact))) throw new InvalidOperationException($"{clr} carries [Fact] but is not a fact");
            found.Add(fact.Type, new FactType(fact.Type, fact.Name, fact.Version, fact.Kind, fact.Role, fact.Also, fact.Summary, clr));
        }

        return found;
    }
}

/// <summary>The content does not have the shape of its type.</summary>
public sealed class FactShapeException(IReadOnlyList<ShapeProblem> problems)
    : Exception(string.Join("; ", problems.Select(p => p.ToString())))
{
    public IReadOnlyList<ShapeProblem> Problems { get; } = problems;
}
