using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using CsCheck;
using Traceability.Core.Records;

namespace Traceability.Core.Tests.Records;

/// <summary>
/// RFC 8785 (published). Inputs and outputs are those of its author's test data ("arrays", "french", "structures",
/// "unicode", "values", "weird") and of the RFC's own section 3.2.2 and Appendix B.
/// </summary>
public class CanonicalJsonTests
{
    private static string Canonical(string json) =>
        Encoding.UTF8.GetString(CanonicalJson.Canonicalize(Encoding.UTF8.GetBytes(json)));

    private static string Sha256(string text) =>
        Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text)));

    [Fact]
    public void The_published_values_example_gives_its_published_bytes()
    {
        var canonical = Canonical(
            """
            {
              "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
              "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
              "literals": [null, true, false]
            }
            """);

        Assert.Equal(
            """{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}""",
            canonical);
        Assert.Equal(
            "7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e756d62657273223a5b3333333333333333332e33333333"
            + "3333332c31652b33302c342e352c302e3030322c31652d32375d2c22737472696e67223a22e282ac245c75303030665c6e4127425c22"
            + "5c5c5c5c5c222f227d",
            Convert.ToHexStringLower(Encoding.UTF8.GetBytes(canonical)));
    }

    [Fact]
    public void The_same_example_under_another_name_has_the_hash_computed_for_it()
    {
        var canonical = Canonical(
            """{"numbers":[1E30,4.50,333333333.33333329,2e-3,0.000000000000000000000000001],"escaping":"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}""");

        Assert.Equal(120, Encoding.UTF8.GetByteCount(canonical));
        Assert.Equal("0af3685dce30daa753153aadb1956b0f3133642fbe5d4a5e3a4267f94814ba87", Sha256(canonical));
    }

    [Fact]
    public void The_published_structures_example_is_sorted_at_every_level()
    {
        var canonical = Canonical(
            """
            {
              "1": {"f": {"f":  "hi","F":  5} ,"\n":  56.0},
              "10": { },
              "": "empty",
              "a": { },
              "111": [ {} ],
              "A": { }
            }
            """);

        Assert.Equal(
            """{"":"empty","1":{"\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{}],"A":{},"a":{}}""", canonical);
        Assert.Equal(80, Encoding.UTF8.GetByteCount(canonical));
        Assert.Equal("513d0c0f2524a8b295a9bbd982a37b7a000f1c5f915bf2d6d8cfdf75347bacad", Sha256(canonical));
    }

    [Fact]
    public void The_published_weird_example_sorts_an_emoji_before_a_hebrew_presentation_form()
    {
        var canonical = Canonical(
            """
            {
              "\u20ac": "Euro Sign",
              "\r": "Carriage Return",
              "\u000a": "Newline",
              "1": "One",
              "\u0080": "Control\u007f",
              "\ud83d\ude02": "Smiley",
              "\u00f6": "Latin Small Letter O With Diaeresis",
              "\ufb33": "Hebrew Letter Dalet With Dagesh",
              "</script>": "Browser Challenge"
            }
            """);

        Assert.Equal(
            "{\"\\n\":\"Newline\",\"\\r\":\"Carriage Return\",\"1\":\"One\",\"</script>\":\"Browser Challenge\","
            + "\"\u0080\":\"Control\u007f\",\"\u00f6\":\"Latin Small Letter O With Diaeresis\",\"\u20ac\":\"Euro Sign\","
            + "\"\ud83d\ude02\":\"Smiley\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}",
            canonical);
    }

    [Fact]
    public void The_published_french_example_sorts_by_code_unit_and_not_by_language()
    {
        Assert.Equal(
            """{"peach":"This sorting order","péché":"is wrong according to French","pêche":"but canonicalization MUST","sin":"ignore locale"}""",
            Canonical(
                """
                {
                  "peach": "This sorting order",
                  "péché": "is wrong according to French",
                  "pêche": "but canonicalization MUST",
                  "sin":   "ignore locale"
                }
                """));
    }

    [Fact]
    public void The_published_unicode_example_is_not_normalized()
    {
        Assert.Equal("{\"Unnormalized Unicode\":\"A\u030a\"}", Canonical("""{ "Unnormalized Unicode":"A\u030a" }"""));
    }

    [Fact]
    public void The_published_arrays_example_keeps_the_order_of_elements()
    {
        Assert.Equal(
            """[56,{"1":[],"10":null,"d":true}]""",
            Canonical(
                """
                [
                  56,
                  {
                    "d": true,
                    "10": null,
                    "1": [ ]
                  }
                ]
                """));
    }

    /// <summary>RFC 8785 Appendix B, and neighbours of the places where the notation changes (published).</summary>
    [Theory]
    [InlineData("0000000000000000", "0")]
    [InlineData("8000000000000000", "0")]
    [InlineData("0000000000000001", "5e-324")]
    [InlineData("8000000000000001", "-5e-324")]
    [InlineData("7fefffffffffffff", "1.7976931348623157e+308")]
    [InlineData("ffefffffffffffff", "-1.7976931348623157e+308")]
    [InlineData("4340000000000000", "9007199254740992")]
    [InlineData("c340000000000000", "-9007199254740992")]
    [InlineData("4340000000000001", "9007199254740994")]
    [InlineData("4430000000000000", "295147905179352830000")]
    [InlineData("44b52d02c7e14af5", "9.999999999999997e+22")]
    [InlineData("44b52d02c7e14af6", "1e+23")]
    [InlineData("44b52d02c7e14af7", "1.0000000000000001e+23")]
    [InlineData("444b1ae4d6e2ef4e", "999999999999999700000")]
    [InlineData("444b1ae4d6e2ef4f", "999999999999999900000")]
    [InlineData("444b1ae4d6e2ef50", "1e+21")]
    [InlineData("3eb0c6f7a0b5ed8c", "9.999999999999997e-7")]
    [InlineData("3eb0c6f7a0b5ed8d", "0.000001")]
    [InlineData("41b3de4355555553", "333333333.3333332")]
    [InlineData("41b3de4355555554", "333333333.33333325")]
    [InlineData("41b3de4355555555", "333333333.3333333")]
    [InlineData("41b3de4355555556", "333333333.3333334")]
    [InlineData("41b3de4355555557", "333333333.33333343")]
    [InlineData("becbf647612f3696", "-0.0000033333333333333333")]
    [InlineData("43143ff3c1cb0959", "1424953923781206.2")]
    public void A_number_is_written_as_ecmascript_writes_its_binary64(string bits, string expected)
    {
        var value = BitConverter.UInt64BitsToDouble(ulong.Parse(bits, NumberStyles.HexNumber, CultureInfo.InvariantCulture));

        Assert.Equal(expected, Canonical(value.ToString("E17", CultureInfo.InvariantCulture)));
    }

    [Theory]
    [InlineData("-0", "0")]
    [InlineData("-0.0e5", "0")]
    [InlineData("1.0", "1")]
    [InlineData("100", "100")]
    [InlineData("-7", "-7")]
    [InlineData("1e2", "100")]
    [InlineData("123456789012345", "123456789012345")]
    [InlineData("1234567890123456789", "1234567890123456800")]
    [InlineData("9007199254740993", "9007199254740992")]
    [InlineData("0.1", "0.1")]
    [InlineData("1e-400", "0")]
    [InlineData(" 5 ", "5")]
    public void Spellings_of_one_number_come_to_one_form(string json, string expected)
    {
        Assert.Equal(expected, Canonical(json));
    }

    [Fact]
    public void Only_the_escapes_that_must_be_are_written()
    {
        Assert.Equal(
            "\"\\b\\t\\n\\f\\r\\u0000\\u0001\\u001f\\\"\\\\/\u007f\u2028é\"",
            Canonical("\"\\u0008\\u0009\\u000A\\u000C\\u000D\\u0000\\u0001\\u001F\\u0022\\u005C\\/\\u007F\\u2028\\u00e9\""));
    }

    [Theory]
    [InlineData("""{"data":{"a":1,"a":2}}""", "$.data.a", "more than once")]
    [InlineData("""{"data":{"b":1,"c":1,"a":3,"b":2}}""", "$.data.b", "more than once")]
    [InlineData("""{"a":1,"\u0061":2}""", "$.a", "more than once")]
    [InlineData("""{"rows":[{},{"x":"\ud800"}]}""", "$.rows[1].x", "surrogate")]
    [InlineData("""{"rows":[1,2,"\udc00x"]}""", "$.rows[2]", "surrogate")]
    [InlineData("""{"load":{"kip":1e999}}""", "$.load.kip", "beyond binary64")]
    [InlineData("""{"load":[-1e999]}""", "$.load[0]", "beyond binary64")]
    [InlineData("""{"load":NaN}""", "$.load", "'N'")]
    [InlineData("""{"load":Infinity}""", "$.load", "'I'")]
    [InlineData("""{"a b":[01]}""", "$['a b'][0]", "leading zero")]
    [InlineData("""{"a":1} {"b":2}""", "$", "'{'")]
    [InlineData("""{"a":1,}""", "$.a", "trailing comma")]
    [InlineData("""{"a":1 /* why */}""", "$.a", "'/'")]
    [InlineData("""{"a":1""", "$.a", "")]
    [InlineData("\"a\tb\"", "$", "0x09")]
    [InlineData("", "$", "")]
    public void A_text_without_a_canonical_form_is_refused_and_the_place_named(string json, string path, string reason)
    {
        var refused = Assert.Throws<CanonicalJsonException>(() => Canonical(json));

        Assert.Equal(path, refused.Path);
        Assert.Contains(path, refused.Message, StringComparison.Ordinal);
        Assert.Contains(reason, refused.Reason, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("2261ff62 22")]
    [InlineData("22ed a0 80 22")]
    [InlineData("22c0 80 22")]
    [InlineData("ef bb bf 31")]
    [InlineData("31 00")]
    public void Bytes_that_are_not_the_utf8_of_one_json_text_are_refused(string hex)
    {
        var bytes = Convert.FromHexString(hex.Replace(" ", "", StringComparison.Ordinal));

        Assert.Throws<CanonicalJsonException>(() => CanonicalJson.Canonicalize(bytes));
    }

    [Fact]
    public void Nesting_is_bounded()
    {
        string Nested(int depth) => new string('[', depth) + new string(']', depth);

        Assert.Equal(Nested(64), Canonical(Nested(64)));
        Assert.Throws<CanonicalJsonException>(() => Canonical(Nested(65)));
    }

    [Fact]
    public void An_object_of_many_members_in_the_worst_order_is_sorted_like_any_other()
    {
        var names = Enumerable.Range(0, 5000).Select(i => i.ToString("D5", CultureInfo.InvariantCulture)).ToArray();
        string Object(IEnumerable<string> order) => "{" + string.Join(",", order.Select(n => $"\"{n}\":{n.TrimStart('0').PadLeft(1, '0')}")) + "}";

        Assert.Equal(Object(names), Canonical(Object(names.Reverse())));
    }

    private static readonly Gen<string> s_text = Gen.OneOf(
        Gen.String[Gen.Char['\u0000', '\u007f'], 0, 8],
        Gen.String[Gen.Char['\u0000', '\ud7ff'], 0, 5],
        Gen.String[Gen.Char['\ue000', '\uffff'], 0, 3],
        Gen.Int[0x10000, 0x10ffff].Select(char.ConvertFromUtf32));

    private static readonly Gen<double> s_number = Gen.OneOf(
        Gen.Double, Gen.Int.Select(i => (double)i), Gen.ULong.Select(BitConverter.UInt64BitsToDouble).Where(double.IsFinite));

    private static readonly Gen<JsonNode?> s_leaf = Gen.OneOf(
        s_text.Select(t => (JsonNode?)JsonValue.Create(t)),
        s_number.Where(double.IsFinite).Select(n => (JsonNode?)JsonValue.Create(n)),
        Gen.Bool.Select(b => (JsonNode?)JsonValue.Create(b)),
        Gen.Const((JsonNode?)null));

    private static readonly Gen<JsonNode?> s_json = Gen.Recursive<JsonNode?>((depth, inner) => depth > 3
        ? s_leaf
        : Gen.OneOf(
            s_leaf,
            inner.Array[0, 4].Select(items => (JsonNode?)new JsonArray([.. items.Select(i => i?.DeepClone())])),
            Gen.Select(s_text, inner).Array[0, 30].Select(members => (JsonNode?)new JsonObject(
                members.DistinctBy(m => m.Item1).Select(m => KeyValuePair.Create(m.Item1, m.Item2?.DeepClone()))))));

    [Fact]
    public void Canonical_bytes_are_their_own_canonical_form()
    {
        s_json.Sample(node =>
        {
            var once = CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(node));
            Assert.Equal(once, CanonicalJson.Canonicalize(once));
            Assert.True(CanonicalJson.IsCanonical(once));
        });
    }

    [Fact]
    public void Canonical_bytes_mean_what_the_text_meant()
    {
        s_json.Sample(node =>
        {
            var canonical = JsonNode.Parse(CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(node)));
            Assert.True(SameValue(node, canonical));
        });
    }

    [Fact]
    public void The_order_in_which_members_were_written_does_not_matter()
    {
        Gen.Select(s_json, Gen.Int).Sample((node, seed) =>
        {
            var shuffled = Shuffled(node, new Random(seed));
            Assert.Equal(
                CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(node)),
                CanonicalJson.Canonicalize(Encoding.UTF8.GetBytes(shuffled?.ToJsonString(s_indented) ?? "null")));
        });
    }

    [Fact]
    public void Members_stand_in_the_order_of_ordinal_string_comparison()
    {
        s_text.Array[0, 40].Sample(names =>
        {
            var distinct = names.Distinct().ToArray();
            var json = new JsonObject(distinct.Select(n => KeyValuePair.Create(n, (JsonNode?)1)));
            var canonical = JsonNode.Parse(CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(json)))!.AsObject();
            Assert.Equal(distinct.Order(StringComparer.Ordinal), canonical.Select(p => p.Key));
        });
    }

    [Fact]
    public void A_number_read_back_is_the_same_binary64()
    {
        s_number.Sample(value =>
        {
            var text = Canonical(value.ToString("R", CultureInfo.InvariantCulture));
            Assert.Equal(value, double.Parse(text, CultureInfo.InvariantCulture));
        }, iter: 20_000);
    }

    private static readonly JsonSerializerOptions s_indented = new() { WriteIndented = true };

    private static bool SameValue(JsonNode? a, JsonNode? b) => (a, b) switch
    {
        (null, null) => true,
        (JsonObject x, JsonObject y) => x.Count == y.Count && x.All(p => y.ContainsKey(p.Key) && SameValue(p.Value, y[p.Key])),
        (JsonArray x, JsonArray y) => x.Count == y.Count && x.Zip(y).All(p => SameValue(p.First, p.Second)),
        (JsonValue x, JsonValue y) when x.GetValueKind() == JsonValueKind.Number =>
            y.GetValueKind() == JsonValueKind.Number && x.GetValue<double>() == y.GetValue<double>(),
        (JsonValue x, JsonValue y) => x.ToJsonString() == y.ToJsonString(),
        _ => false,
    };

    private static JsonNode? Shuffled(JsonNode? node, Random random) => node switch
    {
        JsonObject o => new JsonObject(o.Select(p => KeyValuePair.Create(p.Key, Shuffled(p.Value, random)))
            .OrderBy(_ => random.Next())),
        JsonArray a => new JsonArray([.. a.Select(i => Shuffled(i, random))]),
        _ => node?.DeepClone(),
    };
}
