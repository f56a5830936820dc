using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>
/// The published contract: one JSON Schema (draft 2020-12) per fact type, made from the same <see cref="FactShape"/> that
/// facts are read by, and one of the CloudEvents envelope around them. Contradictions between members
/// (<see cref="IFact.Check"/>) are beyond a schema and are refused with their own words.
/// </summary>
public static class FactSchema
{
    public const string Dialect = "https://json-schema.org/draft/2020-12/schema";

    /// <summary>Where the service serves the schemas; a schema's $id is this and its type.</summary>
    public const string Folder = "/v1/schemas/";

    /// <summary>Name of the envelope's schema in <see cref="Folder"/>.</summary>
    public const string EnvelopeName = "cloudevent";

    // A tape's fraction is less than one inch, in halves to 128ths, at most nine digits above and below.
    private const string Fraction = "(?=[0-9]{1,9}/)0*([01]/0{0,8}2|[0-3]/0{0,8}4|[0-7]/0{0,8}8|([0-9]|1[0-5])/0{0,7}16|([0-9]|[12][0-9]|3[01])/0{0,7}32"
        + "|([0-9]|[1-5][0-9]|6[0-3])/0{0,7}64|([0-9]|[1-9][0-9]|1[01][0-9]|12[0-7])/0{0,6}128)";

    /// <summary>Decimal string or tape fraction, as <see cref="Reading"/> takes it.</summary>
    public static string ReadingPattern { get; } = Pattern("-?", "", "[0-9]{1,9}");

    /// <summary>The same for a reading that cannot be below zero, cannot be zero, or has a largest.</summary>
    public static string ReadingPatternOf(FactShape shape) => shape.Smallest is null ? ReadingPattern
        : shape.Smallest == 0 ? Pattern(shape.Above ? "" : "(-(?=[0. ]+(/|$)))?", shape.Above ? "(?![0. ]+(/|$))" : "", shape.Largest is { } most ? Below(most) : "[0-9]{1,9}", shape.Largest)
        : throw new InvalidOperationException("a reading's smallest is none or zero");

    private static string Pattern(string sign, string ahead, string whole, decimal? largest = null) =>
        $"^{sign}{ahead}({whole}(\\.[0-9]{{1,9}})?|({whole} )?{Fraction}{(largest is { } most ? $"|(?=[0-9]{{1,9}}([. ]|$))0*{most}((\\.0{{1,9}})?|(?= 0+/) {Fraction})" : "")})$";

    // Whole numbers below a round number of two digits: the one kind of largest that a reading has.
    private static string Below(decimal largest) => largest is >= 10 and <= 90 && largest % 10 == 0
        ? $"(?=[0-9]{{1,9}}([. ]|$))0*[0-{(int)(largest / 10) - 1}]?[0-9]" : throw new InvalidOperationException("the largest of a reading is 10, 20, ... 90");

    private const string UuidPattern = "^[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}$";

    public static string IdOf(string type) => Folder + type;

    /// <summary>Schema of the content ("data") of one type.</summary>
    public static JsonObject Of(FactType type)
    {
        var schema = new JsonObject
        {
            ["$schema"] = Dialect,
            ["$id"] = IdOf(type.Type),
            ["title"] = type.Type,
            ["description"] = $"{type.Summary} Content (\"data\") of a CloudEvents 1.0 event of this type; recorded by the role {string.Join(" or ", type.Roles)}.",
        };
        Append(schema, Of(type.Shape, ""));
        return schema;
    }

    /// <summary>Schema of a whole event, with the content of every known type by reference.</summary>
    public static JsonObject Envelope()
    {
        var types = FactCatalog.All.Keys.Order(StringComparer.Ordinal).ToList();
        return new JsonObject
        {
            ["$schema"] = Dialect,
            ["$id"] = IdOf(EnvelopeName),
            ["title"] = "A fact as a station sends it",
            ["description"] = "CloudEvents 1.0 in JSON structured mode. Other extension attributes are kept and hashed with the rest; "
                + $"none may be an object or a list. At most {CloudEvent.LargestBytes} bytes.",
            ["type"] = "object",
            ["required"] = new JsonArray("specversion", "id", "source", "type", "time", "data"),
            ["properties"] = new JsonObject
            {
                ["specversion"] = new JsonObject { ["const"] = "1.0" },
                ["id"] = Attribute("Any text, unique per source for ever. The same event sent again keeps its id and gets the same receipt."),
                ["source"] = Attribute("The station, for example \"/plant/cage-1\".", pattern: "^\\S+$"),
                ["type"] = new JsonObject { ["type"] = "string", ["enum"] = Strings(types), ["description"] = "Name and version of the fact; its content has a schema of its own." },
                ["subject"] = Optional("Optional, for readers on the way; the service takes the subject from the content."),
                ["time"] = Described(Time(), "When it happened, by the station's clock, with its offset. Never a bare local time."),
                ["datacontenttype"] = Optional("application/json", pattern: "^application/json"),
                ["person"] = Optional("Id of the person signed on at the station."),
                ["clockoffsetms"] = Counter("Station clock minus service clock at the last sync, milliseconds. Left out, the time is trusted less.", -CloudEvent.LargestOffsetMs, CloudEvent.LargestOffsetMs),
                ["deviceseq"] = Counter("The device's own numbering of its entries."),
                ["deviceprev"] = Optional("Content hash of the device's previous entry, SHA-256 in lower-case hex."),
                [DeviceSignature.Attribute] = Optional("What the device signed of the fact with its own key, base64; no part of the content.", pattern: DeviceSignature.Pattern),
                ["assurance"] = Optional("How the person signed on, for example \"pin\" or \"badge-offline\"."),
                ["data"] = new JsonObject { ["description"] = "The content, in the schema of its type." },
            },
            ["propertyNames"] = new JsonObject { ["pattern"] = "^[a-z0-9]{1,40}$" },
            ["additionalProperties"] = new JsonObject { ["type"] = new JsonArray("string", "number", "boolean", "null") },
            ["allOf"] = new JsonArray([.. types.Select(type => new JsonObject
            {
                ["if"] = new JsonObject { ["properties"] = new JsonObject { ["type"] = new JsonObject { ["const"] = type } } },
                ["then"] = new JsonObject { ["properties"] = new JsonObject { ["data"] = new JsonObject { ["$ref"] = IdOf(type) } } },
            })]),
        };
    }

    /// <summary>What a member holds, in words: for the schema's descriptions and the catalogue.</summary>
    public static string Words(string name, FactShape shape) => shape.Kind switch
    {
        ShapeKind.Reading => $"Decimal string or inch fraction, {UnitNames.Of(name) ?? "unit beside it"}" + (shape.RangeText() is var range && range == "any" ? "." : $", {range}."),
        ShapeKind.Identity => $"Identity of the kind {shape.SubjectKind}.",
        ShapeKind.Time => "RFC 3339 time with its offset.",
        ShapeKind.Day => "Calendar day at the plant.",
        ShapeKind.Id => "UUID.",
        ShapeKind.Content => "Content of the type named beside it.",
        ShapeKind.List when shape.Element!.Kind is not ShapeKind.Object => $"{shape.Fewest} to {shape.Most} entries. " + Words(name, shape.Element),
        ShapeKind.List => $"{shape.Fewest} to {shape.Most} entries.",
        ShapeKind.Whole => "Whole number" + (shape is { Smallest: > int.MinValue, Largest: < int.MaxValue } ? $", {shape.RangeText()}." : "."),
        ShapeKind.Choice => $"One of {string.Join(", ", shape.Choices)}.",
        ShapeKind.Flag => "true or false.",
        ShapeKind.Text => $"Text of at most {shape.Longest} characters.",
        _ => $"Object of {string.Join(", ", shape.Members.Select(m => m.Name))}.",
    };

    private static JsonObject Of(FactShape shape, string name)
    {
        switch (shape.Kind)
        {
            case ShapeKind.Object:
                return new JsonObject
                {
                    ["type"] = "object",
                    ["required"] = Strings(shape.Members.Where(m => m.Required).Select(m => m.Name)),
                    ["properties"] = new JsonObject(shape.Members.Select(m => KeyValuePair.Create(m.Name, (JsonNode?)Of(m)))),
                    ["additionalProperties"] = false,
                };
            case ShapeKind.List:
                return new JsonObject { ["type"] = "array", ["items"] = Of(shape.Element!, name), ["minItems"] = shape.Fewest, ["maxItems"] = shape.Most };
            case ShapeKind.Text:
                return new JsonObject
                {
                    ["type"] = "string",
                    ["maxLength"] = shape.Longest,
                    ["pattern"] = shape.MayBeBlank ? "^[^\\u0000]*$" : "^[^\\u0000]*[^\\u0000-\\u0020\\u0085\\u00a0][^\\u0000]*$",
                };
            case ShapeKind.Identity:
                var inner = "[^" + (shape.WithoutSlash ? "/" : "") + "\\u0000-\\u001f\\u007f-\\u009f\\ud800-\\udfff]";
                return new JsonObject { ["type"] = "string", ["minLength"] = 1, ["maxLength"] = shape.Longest, ["pattern"] = $"^(?! ){inner}*(?! ){inner}$" };
            case ShapeKind.Reading:
                return new JsonObject { ["type"] = "string", ["maxLength"] = Reading.LongestText, ["pattern"] = ReadingPatternOf(shape) };
            case ShapeKind.Whole:
                return new JsonObject { ["type"] = "integer", ["minimum"] = shape.Smallest, ["maximum"] = shape.Largest };
            case ShapeKind.Flag:
                return new JsonObject { ["type"] = "boolean" };
            case ShapeKind.Choice:
                return new JsonObject { ["type"] = "string", ["enum"] = Strings(shape.Choices) };
            case ShapeKind.Time:
                return Time();
            case ShapeKind.Day:
                return new JsonObject { ["type"] = "string", ["format"] = "date", ["pattern"] = Rfc3339.DayPattern };
            case ShapeKind.Id:
                return new JsonObject { ["type"] = "string", ["format"] = "uuid", ["pattern"] = UuidPattern };
            default:
                return new JsonObject { ["type"] = "object" };
        }
    }

    private static JsonObject Of(ShapeMember member)
    {
        var schema = Of(member.Shape, member.Name);
        if (member.Nullable)
        {
            schema["type"] = new JsonArray(schema["type"]!.DeepClone(), "null");
            if (schema["enum"] is JsonArray choices) choices.Add((JsonNode?)null);
        }

        var words = string.Join(" ", new[] { member.Description, Words(member.Name, member.Shape) }.Where(w => w.Length > 0));
        return words.Length == 0 ? schema : Described(schema, words);
    }

    private static JsonObject Time() => new() { ["type"] = "string", ["format"] = "date-time", ["pattern"] = Rfc3339.Pattern };

    private static JsonObject Attribute(string description, string? pattern = null)
    {
        var schema = new JsonObject { ["type"] = "string", ["minLength"] = 1, ["maxLength"] = CloudEvent.LongestAttribute };
        if (pattern is not null) schema["pattern"] = pattern;
        return Described(schema, description);
    }

    // What need not be there may be null.
    private static JsonObject Optional(string description, string? pattern = null)
    {
        var schema = Attribute(description, pattern);
        schema["type"] = new JsonArray("string", "null");
        return schema;
    }

    // CloudEvents has whole numbers as texts where a transport knows nothing else: both are read.
    private static JsonObject Counter(string description, long? smallest = null, long? largest = null)
    {
        var schema = new JsonObject { ["type"] = new JsonArray("integer", "string", "null"), ["pattern"] = "^[+-]?[0-9]{1,40}$" };
        if (smallest is not null) schema["minimum"] = smallest;
        if (largest is not null) schema["maximum"] = largest;
        return Described(schema, description);
    }

    private static JsonObject Described(JsonObject schema, string description)
    {
        schema["description"] = description;
        return schema;
    }

    private static JsonArray Strings(IEnumerable<string> texts) => new([.. texts.Select(t => (JsonNode?)JsonValue.Create(t))]);

    private static void Append(JsonObject to, JsonObject from)
    {
        foreach (var (name, value) in from.ToList()) to[name] = value?.DeepClone();
    }
}
