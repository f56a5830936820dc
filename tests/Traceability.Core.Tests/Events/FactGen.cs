using System.Globalization;
using System.Text.Json.Nodes;
using CsCheck;
using Traceability.Core.Events;

namespace Traceability.Core.Tests.Events;

/// <summary>Contents generated from the shape of a type: mostly right, with any member wrong now and then.</summary>
internal static class FactGen
{
    // No text ends in a line feed: the outside validator lets "$" match before one, which ECMA-262 does not. No text holds a combining mark: it
    // counts a letter with its marks as one character, where JSON Schema (validation, 6.3.1) counts each as one.
    private static readonly Gen<string> s_letters = Gen.OneOf(
        Gen.String[Gen.Char['a', 'z'], 1, 12], Gen.String[Gen.Char[' ', '~'], 0, 12], Gen.String[Gen.Char['\u00a1', '\u04ff'], 1, 6],
        Gen.String[Gen.Char['\u0000', '\u00a0'], 0, 4], Gen.Const("\ud83d\ude02 ok")).Select(t => new string([.. t.TrimEnd('\n').Where(c => !IsMark(c))]));

    private static readonly Gen<JsonNode?> s_any = Gen.OneOf(
        Gen.Const((JsonNode?)null), Gen.Bool.Select(b => (JsonNode?)JsonValue.Create(b)), Gen.Int.Select(i => (JsonNode?)JsonValue.Create(i)),
        s_letters.Select(t => (JsonNode?)JsonValue.Create(t)), Gen.Const(0).Select(_ => (JsonNode?)new JsonArray((JsonNode?)null)), Gen.Const(0).Select(_ => (JsonNode?)new JsonObject { ["x"] = 1 }));

    private static readonly Gen<string> s_reading = Gen.OneOf(
        Gen.Decimal[-100, 100000].Select(d => decimal.Round(d, 3).ToString(CultureInfo.InvariantCulture)),
        Gen.Select(Gen.Int[0, 40], Gen.Int[1, 15]).Select((whole, top) => $"{whole} {top}/16"),
        Gen.Int[1, 7].Select(top => $"{top}/8"));

    // At and beside every edge of what a reading may be: the reader and the schema have to draw the same line.
    private static readonly string[] s_edges =
    [
        "-4", "-0", "0", "0.000", "-0.5", "0/8", "0 0/16", "-0/8", "-1/2", "7/8", "8/8", "9/8", "15/16", "16/16", "31/32", "32/32", "63/64", "64/64", "127/128", "128/128", "1/256", "12 16/16",
        "89.999999999", "89 15/16", "90", "90.0", "000000090", "90 0/8", "90 1/8", "90.1", "91", "100", "1/08", "1/000000002", "1/0000000002", "999999999", "1000000000", "1.", ".5", "1 1/2 ", "1e3", "+1",
    ];

    private static readonly Gen<JsonNode?> s_edge = Gen.Int[0, s_edges.Length - 1].Select(i => (JsonNode?)JsonValue.Create(s_edges[i]));

    /// <summary>A content in which about one member in <paramref name="oneWrongIn"/> is anything at all; 0 for none.</summary>
    public static Gen<JsonNode?> Content(FactShape shape, int oneWrongIn = 60) => Of(shape, oneWrongIn);

    private static Gen<JsonNode?> Of(FactShape shape, int oneWrongIn)
    {
        var right = Right(shape, oneWrongIn);
        return oneWrongIn == 0 ? right
            : shape.Kind == ShapeKind.Reading ? Gen.Frequency((oneWrongIn, right), (1, s_any), (Math.Max(1, oneWrongIn / 10), s_edge))
            : Gen.Frequency((oneWrongIn, right), (1, s_any));
    }

    private static Gen<JsonNode?> Right(FactShape shape, int oneWrongIn)
    {
        switch (shape.Kind)
        {
            case ShapeKind.Object:
                return shape.Members.Select(m => Gen.Select(
                        m.Required ? Gen.Const(true) : Gen.Bool,
                        m.Nullable ? Gen.Frequency((9, Of(m.Shape, oneWrongIn)), (1, Gen.Const((JsonNode?)null))) : Of(m.Shape, oneWrongIn))
                    .Select((there, value) => (m.Name, there, value)))
                    .Aggregate(Gen.Const(0).Select(_ => new List<(string, JsonNode?)>()), (all, one) => Gen.Select(all, one)
                        .Select((list, member) => member.there ? [.. list, (member.Name, member.value)] : list))
                    .Select(members => (JsonNode?)new JsonObject(members.Select(m => KeyValuePair.Create(m.Item1, m.Item2?.DeepClone()))));
            case ShapeKind.List:
                return Of(shape.Element!, oneWrongIn).List[shape.Fewest, Math.Min(shape.Most, Math.Max(shape.Fewest, 3))]
                    .Select(items => (JsonNode?)new JsonArray([.. items.Select(i => i?.DeepClone())]));
            case ShapeKind.Reading when shape.Smallest is not null:
                return s_reading.Select(t => (JsonNode?)JsonValue.Create(t.TrimStart('-'))).Where(t => shape.Largest is null || !t!.GetValue<string>().Contains('/', StringComparison.Ordinal))
                    .Select(t => shape.Largest is { } largest ? (JsonNode?)JsonValue.Create((1 + (t!.GetValue<string>().Length % (int)largest)).ToString(CultureInfo.InvariantCulture)) : IsZero(t!) ? JsonValue.Create("1") : t);
            case ShapeKind.Reading:
                return s_reading.Select(t => (JsonNode?)JsonValue.Create(t));
            case ShapeKind.Whole:
                return Gen.Long[(long)Math.Max(shape.Smallest ?? 0, int.MinValue), (long)Math.Min(shape.Largest ?? 0, int.MaxValue)].Select(i => (JsonNode?)JsonValue.Create(i));
            case ShapeKind.Flag:
                return Gen.Bool.Select(b => (JsonNode?)JsonValue.Create(b));
            case ShapeKind.Choice:
                return Gen.Int[0, shape.Choices.Count - 1].Select(i => shape.Choices[i]).Select(c => (JsonNode?)JsonValue.Create(c));
            case ShapeKind.Time:
                return Gen.Select(Gen.Int[0, 1_000_000_000], Gen.Int[-12, 12]).Select((s, h) => (JsonNode?)JsonValue.Create(
                    DateTimeOffset.UnixEpoch.AddDays(1).AddSeconds(s).ToOffset(TimeSpan.FromHours(h)).ToString("yyyy-MM-dd'T'HH:mm:sszzz", CultureInfo.InvariantCulture)));
            case ShapeKind.Day:
                return Gen.Int[0, 20_000].Select(d => (JsonNode?)JsonValue.Create(new DateOnly(2000, 1, 1).AddDays(d).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)));
            case ShapeKind.Id:
                return Gen.Guid.Select(g => (JsonNode?)JsonValue.Create(g.ToString("D")));
            case ShapeKind.Content:
                return Gen.Const(0).Select(_ => (JsonNode?)new JsonObject { ["unit"] = "RF-1" });
            default:
                return shape.Longest < 12 ? Gen.String[Gen.Char['A', 'Z'], 1, shape.Longest].Select(t => (JsonNode?)JsonValue.Create(t))
                    : Gen.Frequency((6, Gen.String[Gen.Char['a', 'z'], 1, 12]), (1, s_letters.Where(t => !t.Any(char.IsSurrogate)))).Select(t => (JsonNode?)JsonValue.Create(t));
        }
    }

    private static bool IsMark(char c) => char.GetUnicodeCategory(c) is UnicodeCategory.NonSpacingMark or UnicodeCategory.EnclosingMark or UnicodeCategory.SpacingCombiningMark;

    private static bool IsZero(JsonNode reading) => !reading.GetValue<string>().Any(c => c is >= '1' and <= '9');
}
