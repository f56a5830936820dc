using System.ComponentModel;
using System.Globalization;
using System.Reflection;
using System.Text.Json;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>The text, or every text of the list, is the identity of one kind of subject as it is marked in the plant.</summary>
[AttributeUsage(AttributeTargets.Parameter)]
public sealed class IdentityAttribute(string kind) : Attribute
{
    public string Kind { get; } = kind;

    /// <summary>Characters; 0 for as many as a subject's key has room for.</summary>
    public int Longest { get; init; }

    /// <summary>Set where a slash parts this identity from the next.</summary>
    public bool WithoutSlash { get; init; }
}

/// <summary>Most characters of a text. Without it: <see cref="FactShape.LongestText"/>.</summary>
[AttributeUsage(AttributeTargets.Parameter)]
public sealed class LongestAttribute(int characters) : Attribute
{
    public int Characters { get; } = characters;
}

/// <summary>Fewest and most entries of a list. Without it: 0 to <see cref="FactShape.MostEntries"/>.</summary>
[AttributeUsage(AttributeTargets.Parameter)]
public sealed class EntriesAttribute(int fewest, int most) : Attribute
{
    public int Fewest { get; } = fewest;
    public int Most { get; } = most;
}

/// <summary>Smallest and largest that a whole number or a reading can be at all. Not a limit of acceptance: bad news is never refused.</summary>
[AttributeUsage(AttributeTargets.Parameter)]
public sealed class BetweenAttribute(int smallest, int largest) : Attribute
{
    public int Smallest { get; } = smallest;
    public int Largest { get; } = largest;
}

/// <summary>The quantity is above zero by its nature.</summary>
[AttributeUsage(AttributeTargets.Parameter)]
public sealed class PositiveAttribute : Attribute;

/// <summary>The quantity is zero or more by its nature.</summary>
[AttributeUsage(AttributeTargets.Parameter)]
public sealed class NotNegativeAttribute : Attribute;

/// <summary>What a member of a fact's content is in JSON.</summary>
public enum ShapeKind { Object, List, Text, Identity, Reading, Whole, Flag, Choice, Time, Day, Id, Content }

/// <summary>One member of an object.</summary>
/// <param name="Required">Must be there. A member that need not be may also be null when its default is.</param>
/// <param name="Description">What it is, for the schema and the catalogue; empty when its name says it.</param>
public sealed record ShapeMember(string Name, FactShape Shape, bool Required, bool Nullable, string Description);

/// <summary>
/// The shape of a fact's content, read once from its type: what <see cref="FactCatalog.Read(FactType, JsonElement)"/>
/// checks, what <see cref="FactSchema"/> publishes and what the catalogue of facts prints, so that the three agree.
/// </summary>
public sealed class FactShape
{
    /// <summary>Characters of a text that states no limit of its own.</summary>
    public const int LongestText = 200;

    /// <summary>Entries of a list that states no limit of its own.</summary>
    public const int MostEntries = 400;

    /// <summary>Largest whole number that every reader of JSON holds exactly, 2^53 - 1; the canonical form rounds beyond it.</summary>
    private const long LargestWhole = 9_007_199_254_740_991;

    /// <summary>Problems reported of one fact; a station fixes these before it can have made more.</summary>
    private const int MostProblems = 20;

    private FactShape(ShapeKind kind) => Kind = kind;

    public ShapeKind Kind { get; }

    public IReadOnlyList<ShapeMember> Members { get; private init; } = [];

    public FactShape? Element { get; private init; }

    public IReadOnlyList<string> Choices { get; private init; } = [];

    public int Longest { get; private init; }

    public int Fewest { get; private init; }

    public int Most { get; private init; }

    public decimal? Smallest { get; private init; }

    public decimal? Largest { get; private init; }

    /// <summary>Set when <see cref="Smallest"/> itself is not allowed.</summary>
    public bool Above { get; private init; }

    public string SubjectKind { get; private init; } = "";

    public bool WithoutSlash { get; private init; }

    /// <summary>Set for a text that need not be there: clients send it empty.</summary>
    public bool MayBeBlank { get; private init; }

    internal static FactShape Of(Type clr) => OfObject(clr, []);

    private static FactShape OfObject(Type clr, HashSet<Type> around)
    {
        if (!around.Add(clr)) throw new InvalidOperationException($"{clr} holds itself; the content of a fact is a plain tree");
        var constructor = clr.GetConstructors().MaxBy(c => c.GetParameters().Length)!;
        var members = constructor.GetParameters().Select(p => new ShapeMember(
            JsonNamingPolicy.CamelCase.ConvertName(p.Name!), OfParameter(p, p.ParameterType, around), !p.HasDefaultValue,
            p is { HasDefaultValue: true, DefaultValue: null }, p.GetCustomAttribute<DescriptionAttribute>()?.Description ?? "")).ToList();
        around.Remove(clr);
        return new(ShapeKind.Object) { Members = members };
    }

    private static FactShape OfParameter(ParameterInfo parameter, Type declared, HashSet<Type> around)
    {
        var clr = Nullable.GetUnderlyingType(declared) ?? declared;
        if (clr.IsGenericType && clr.GetGenericTypeDefinition() == typeof(IReadOnlyList<>))
        {
            var entries = parameter.GetCustomAttribute<EntriesAttribute>();
            return new(ShapeKind.List)
            {
                Element = OfParameter(parameter, clr.GetGenericArguments()[0], around),
                Fewest = entries?.Fewest ?? 0,
                Most = entries?.Most ?? MostEntries,
            };
        }

        if (clr == typeof(string)) return OfText(parameter, mayBeBlank: clr == parameter.ParameterType && parameter.HasDefaultValue);
        if (clr == typeof(Reading)) return Ranged(ShapeKind.Reading, parameter);
        if (clr == typeof(int)) return Ranged(ShapeKind.Whole, parameter, int.MaxValue);
        if (clr == typeof(long)) return Ranged(ShapeKind.Whole, parameter, LargestWhole);
        if (clr == typeof(bool)) return new(ShapeKind.Flag);
        if (clr == typeof(DateTimeOffset)) return new(ShapeKind.Time);
        if (clr == typeof(DateOnly)) return new(ShapeKind.Day);
        if (clr == typeof(Guid)) return new(ShapeKind.Id);
        if (clr == typeof(JsonElement)) return new(ShapeKind.Content);
        if (clr.IsEnum) return new(ShapeKind.Choice) { Choices = [.. Enum.GetNames(clr).Select(JsonNamingPolicy.CamelCase.ConvertName)] };
        return OfObject(clr, around);
    }

    private static FactShape OfText(ParameterInfo parameter, bool mayBeBlank)
    {
        if (parameter.GetCustomAttribute<IdentityAttribute>() is not { } identity)
            return new(ShapeKind.Text) { Longest = parameter.GetCustomAttribute<LongestAttribute>()?.Characters ?? LongestText, MayBeBlank = mayBeBlank };
        var room = Subject.LongestKey - identity.Kind.Length - 1;
        return new(ShapeKind.Identity)
        {
            SubjectKind = identity.Kind,
            WithoutSlash = identity.WithoutSlash,
            Longest = identity.Longest == 0 ? room : Math.Min(room, identity.Longest),
        };
    }

    private static FactShape Ranged(ShapeKind kind, ParameterInfo parameter, decimal? widest = null)
    {
        var between = parameter.GetCustomAttribute<BetweenAttribute>();
        var positive = parameter.GetCustomAttribute<PositiveAttribute>() is not null;
        var zeroOrMore = parameter.GetCustomAttribute<NotNegativeAttribute>() is not null;
        return new(kind)
        {
            Smallest = between?.Smallest ?? (positive || zeroOrMore ? 0 : -widest),
            Largest = between?.Largest ?? widest,
            Above = positive,
        };
    }

    /// <summary>Adds what is wrong with a value; nothing when it has this shape.</summary>
    public void Check(JsonElement value, string field, List<ShapeProblem> problems)
    {
        // Nearly every content has its shape; only one that has not is worth the names of its fields.
        if (!Fits(value)) Explain(value, field, problems);
    }

    private bool Fits(JsonElement value)
    {
        switch (Kind)
        {
            case ShapeKind.Object when value.ValueKind == JsonValueKind.Object:
                var found = 0;
                foreach (var member in Members)
                {
                    if (!value.TryGetProperty(member.Name, out var content))
                    {
                        if (member.Required) return false;
                        continue;
                    }

                    found++;
                    if (!(content.ValueKind == JsonValueKind.Null && member.Nullable) && !member.Shape.Fits(content)) return false;
                }

                return found == value.GetPropertyCount();
            case ShapeKind.List when value.ValueKind == JsonValueKind.Array:
                var count = value.GetArrayLength();
                if (count < Fewest || count > Most) return false;
                foreach (var entry in value.EnumerateArray())
                {
                    if (!Element!.Fits(entry)) return false;
                }

                return true;
            default:
                return Problem(value) is null;
        }
    }

    private void Explain(JsonElement value, string field, List<ShapeProblem> problems)
    {
        if (problems.Count >= MostProblems) return;
        switch (Kind)
        {
            case ShapeKind.Object when value.ValueKind == JsonValueKind.Object:
                ExplainMembers(value, field, problems);
                return;
            case ShapeKind.List when value.ValueKind == JsonValueKind.Array:
                ExplainEntries(value, field, problems);
                return;
        }

        if (Problem(value) is { } problem) problems.Add(new(field, problem.Limit, problem.Remedy));
    }

    private void ExplainMembers(JsonElement value, string field, List<ShapeProblem> problems)
    {
        foreach (var member in Members)
        {
            var name = field + "." + member.Name;
            if (!value.TryGetProperty(member.Name, out var content))
            {
                if (member.Required) problems.Add(new(name, "is required", "Send it."));
            }
            else if (content.ValueKind != JsonValueKind.Null || !member.Nullable)
            {
                member.Shape.Explain(content, name, problems);
            }
        }

        var seen = new HashSet<string>(StringComparer.Ordinal);
        foreach (var property in value.EnumerateObject())
        {
            if (problems.Count >= MostProblems) return;
            var name = field + "." + Shortened(property.Name);
            if (!Members.Any(m => property.NameEquals(m.Name))) problems.Add(new(name, "is not a member of this content", "Leave it out; compare with the schema of this type."));
            else if (!seen.Add(property.Name)) problems.Add(new(name, "must be named once", "Remove the repeats."));
        }
    }

    private void ExplainEntries(JsonElement value, string field, List<ShapeProblem> problems)
    {
        var count = value.GetArrayLength();
        if (count < Fewest || count > Most)
        {
            problems.Add(new(field, $"must list {Fewest} to {Most} entries, it lists {count}", count < Fewest ? "Send every entry." : "Split it into several facts."));
            return;
        }

        var i = 0;
        foreach (var entry in value.EnumerateArray()) Element!.Explain(entry, $"{field}[{i++}]", problems);
    }

    private (string Limit, string Remedy)? Problem(JsonElement value)
    {
        var text = value.ValueKind == JsonValueKind.String ? value.GetString()! : null;
        switch (Kind)
        {
            case ShapeKind.Object or ShapeKind.Content:
                return value.ValueKind == JsonValueKind.Object ? null : ("must be a JSON object", "Compare it with the schema of this type.");
            case ShapeKind.List:
                return ($"must be a JSON list of {Fewest} to {Most} entries", "Send a list, also for one entry.");
            case ShapeKind.Text:
                return text is not null && Characters(text) <= Longest && (MayBeBlank || text.Any(IsVisible)) && !text.Contains('\0', StringComparison.Ordinal)
                    ? null : ($"must be a text of {(MayBeBlank ? 0 : 1)} to {Longest} characters without NUL", "Fill it in or shorten it.");
            case ShapeKind.Identity:
                return text is not null && text.Length <= Longest && Subject.IsId(text, SubjectKind) && !(WithoutSlash && text.Contains('/', StringComparison.Ordinal))
                    ? null : ($"must be an identity of the kind {SubjectKind}, 1 to {Longest} characters without control characters{(WithoutSlash ? ", slashes" : "")} or outer spaces", "Send the identity as it is marked in the plant.");
            case ShapeKind.Reading:
                if (text is null || !Reading.TryParse(text, out var reading))
                    return ($"must be a decimal string such as \"0.3817\" or an inch fraction such as \"1 15/16\" of at most {Reading.LongestText} characters, never a JSON number", "Send the reading as it was read, as a text.");
                return InRange(reading.Value) ? null : ($"must be {RangeText()}", "Check the reading and its unit.");
            case ShapeKind.Whole:
                return value.ValueKind == JsonValueKind.Number && value.TryGetInt64(out var whole) && InRange(whole)
                    ? null : ($"must be a whole number, {RangeText()}", "Send a JSON number without decimals.");
            case ShapeKind.Flag:
                return value.ValueKind is JsonValueKind.True or JsonValueKind.False ? null : ("must be true or false", "Send a JSON boolean.");
            case ShapeKind.Choice:
                return text is not null && Choices.Contains(text, StringComparer.Ordinal) ? null : ($"must be one of {string.Join(", ", Choices)}", "Send one of these, written like this.");
            case ShapeKind.Time:
                return Rfc3339.TryRead(text, out _) ? null : (Rfc3339.Limit, "Never send a bare local time.");
            case ShapeKind.Day:
                return Rfc3339.TryReadDay(text, out _) ? null : (Rfc3339.DayLimit, "Send the calendar day at the plant.");
            default:
                return IsUuid(text) ? null : ("must be a UUID such as 6f0f4f4e-1c8e-5a57-9a0b-3f6b1f0a7c11", "Send the record's id from its receipt.");
        }
    }

    /// <summary>The range in words.</summary>
    public string RangeText() => (Smallest, Largest) switch
    {
        ({ } small, null) => Above ? $"greater than {Number(small)}" : $"{Number(small)} or more",
        ({ } small, { } large) => Above ? $"greater than {Number(small)}, at most {Number(large)}" : $"{Number(small)} to {Number(large)}",
        _ => "any",
    };

    private bool InRange(decimal value) =>
        (Smallest is not { } small || value > small || (value == small && !Above)) && (Largest is not { } large || value <= large);

    private static string Number(decimal value) => value.ToString(CultureInfo.InvariantCulture);

    // Written as the schema's pattern says it: regular expressions disagree on what white space is.
    private static bool IsVisible(char c) => c > ' ' && c is not ('\u0085' or '\u00a0');

    // As JSON Schema counts: a character beyond the basic plane is one.
    private static int Characters(string text) => text.Length - text.Count(char.IsLowSurrogate);

    // The runtime's own parser takes white space and signs too, and the one that reads the fact afterwards does not.
    private static bool IsUuid(string? text) => text is { Length: 36 } && text.Index().All(c => c.Index is 8 or 13 or 18 or 23 ? c.Item == '-' : char.IsAsciiHexDigit(c.Item));

    private static string Shortened(string name) => name.Length <= 60 ? name : name[..60] + "...";
}
