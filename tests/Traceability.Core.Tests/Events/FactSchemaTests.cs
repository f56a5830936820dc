using System.Reflection;
using System.Text.Json;
using System.Text.Json.Nodes;
using CsCheck;
using Json.Schema;
using Traceability.Core.Events;
using Traceability.Core.Quantities;

namespace Traceability.Core.Tests.Events;

/// <summary>The schemas as an outside implementation of JSON Schema, draft 2020-12, reads them.</summary>
public class FactSchemaTests
{
    private static readonly IReadOnlyDictionary<string, JsonSchema> s_schemas = Build(out s_envelope);

    private static readonly JsonSchema s_envelope;

    public static TheoryData<string> Types => Golden.Types();

    private static Dictionary<string, JsonSchema> Build(out JsonSchema envelope)
    {
        var options = new BuildOptions { SchemaRegistry = new SchemaRegistry() };
        var origin = new Uri("https://plant.example/");
        var schemas = FactCatalog.All.Values.ToDictionary(t => t.Type, t => JsonSchema.FromText(FactSchema.Of(t).ToJsonString(), options, origin));
        envelope = JsonSchema.FromText(FactSchema.Envelope().ToJsonString(), options, origin);
        return schemas;
    }

    internal static bool IsValid(string type, JsonElement data) => s_schemas[type].Evaluate(data).IsValid;

    [Theory, MemberData(nameof(Types))]
    public void Every_golden_content_is_valid(string type)
    {
        Assert.All(Golden.Forms(type), form => Assert.True(IsValid(type, Golden.Data(type, form)), form));
    }

    [Theory, MemberData(nameof(Types))]
    public void Schema_and_reader_refuse_the_same_wrong_shapes(string type)
    {
        var tried = 0;
        foreach (var (what, wrong) in Golden.Forms(type).SelectMany(form => Mutation.All(FactCatalog.All[type].Shape, Golden.Data(type, form))))
        {
            Assert.False(IsValid(type, wrong), $"the schema accepts: {what}");
            var refused = Assert.Throws<FactShapeException>(() => FactCatalog.Read(FactCatalog.All[type], wrong));
            Assert.Contains(refused.Problems, p => (what.StartsWith(p.Field, StringComparison.Ordinal) || p.Field.StartsWith(what.Split(" ")[0], StringComparison.Ordinal)) && p.Limit.Length > 0 && p.Remedy.Length > 0);
            tried++;
        }

        Assert.True(tried > 10, $"{tried}");
    }

    [Theory, MemberData(nameof(Types))]
    public void What_the_reader_accepts_the_schema_accepts_and_the_other_way_round(string type)
    {
        var factType = FactCatalog.All[type];

        FactGen.Content(factType.Shape).Sample(content =>
        {
            var data = JsonSerializer.SerializeToElement(content);
            var problems = new List<ShapeProblem>();
            factType.Shape.Check(data, "data", problems);
            try
            {
                var fact = FactCatalog.Read(factType, data);
                Assert.Empty(problems);
                Assert.Equal(fact.About.Key, Links(fact).First().From.Key);
            }
            catch (FactShapeException e)
            {
                // Contradictions between members are beyond a schema: what they refuse has its shape.
                Assert.NotEmpty(e.Problems);
                if (problems.Count > 0) Assert.Equal(problems, e.Problems);
            }

            Assert.Equal(problems.Count == 0, IsValid(type, data));
        }, iter: 300);
    }

    /// <summary>Contents that the reader and the schema once judged differently.</summary>
    [Theory]
    [InlineData("weather.read.v1", """{"units":["a"],"airF":"4/8","rainedIn":false,"humidityPct":"-4","windMph":"7"}""", false)]
    [InlineData("weather.read.v1", """{"units":["a"],"airF":"4/8","rainedIn":false,"humidityPct":"-0","windMph":"7"}""", true)]
    [InlineData("weather.read.v1", """{"units":["a"],"airF":"-9/8","rainedIn":false,"humidityPct":"4","windMph":"7"}""", false)]
    [InlineData("unit.stripped.v1", """{"unit":"k","gear":"g","legsThatCarried":16,"slingAngleDeg":"8","storedAt":"x","lifterEdgeIn":"-4"}""", false)]
    [InlineData("unit.stripped.v1", """{"unit":"k","gear":"g","legsThatCarried":4,"slingAngleDeg":"90","storedAt":"x","lifterEdgeIn":"4"}""", true)]
    [InlineData("unit.stripped.v1", """{"unit":"k","gear":"g","legsThatCarried":4,"slingAngleDeg":"90 1/8","storedAt":"x","lifterEdgeIn":"4"}""", false)]
    [InlineData("unit.stripped.v1", """{"unit":"k","gear":"g","legsThatCarried":4,"slingAngleDeg":"0","storedAt":"x","lifterEdgeIn":"4"}""", false)]
    public void Reader_and_schema_draw_the_same_line(string type, string content, bool right)
    {
        using var data = JsonDocument.Parse(content);
        var problems = new List<ShapeProblem>();
        FactCatalog.All[type].Shape.Check(data.RootElement, "data", problems);

        Assert.Equal((right, right), (problems.Count == 0, IsValid(type, data.RootElement)));
    }

    /// <summary>JSON Schema, validation, 6.3.1 (published): a string's length is its number of characters as RFC 8259 has them, not of their code units.</summary>
    [Theory]
    [InlineData("\ud83d\ude02\ud83d\ude02", true)]
    [InlineData("\ud83d\ude02\ud83d\ude02x", false)]
    public void A_text_is_as_long_as_it_has_characters(string country, bool right)
    {
        var lot = JsonObject.Create(Golden.Data("lot.certified.v1", "complete"))!;
        lot["meltedIn"] = country;
        var data = JsonSerializer.SerializeToElement(lot);
        var problems = new List<ShapeProblem>();
        FactCatalog.All["lot.certified.v1"].Shape.Check(data, "data", problems);

        Assert.Equal((right, right), (problems.Count == 0, IsValid("lot.certified.v1", data)));
    }

    private static IEnumerable<Core.Dossiers.Link> Links(IFact fact) => Core.Dossiers.Links.Of(fact);

    [Theory, MemberData(nameof(Types))]
    public void A_schema_names_itself_and_explains_every_member(string type)
    {
        var schema = FactSchema.Of(FactCatalog.All[type]);

        Assert.Equal("https://json-schema.org/draft/2020-12/schema", (string?)schema["$schema"]);
        Assert.Equal("/v1/schemas/" + type, (string?)schema["$id"]);
        Assert.StartsWith(FactCatalog.All[type].Summary, (string?)schema["description"], StringComparison.Ordinal);
        Assert.False((bool)schema["additionalProperties"]!);
        Assert.All(FactCatalog.All[type].Shape.Members,
            m => Assert.NotEmpty((string?)schema["properties"]![m.Name]!["description"] ?? ""));
    }

    [Theory, MemberData(nameof(Types))]
    public void Every_quantity_has_its_unit_in_its_name(string type)
    {
        Assert.All(Readings(FactCatalog.All[type].Shape), name => Assert.NotNull(UnitNames.Of(name)));
    }

    private static IEnumerable<string> Readings(FactShape shape) => shape.Members.SelectMany(m =>
        (m.Shape.Element ?? m.Shape) is { Kind: ShapeKind.Reading } ? [m.Name]
        // A limit's unit stands in the member beside it, because every limit has another.
        : Readings(m.Shape.Element ?? m.Shape).Where(n => n != "value" || m.Name is not ("limits" or "planLimits" or "stated")));

    [Theory, MemberData(nameof(Types))]
    public void The_envelope_checks_the_content_by_its_type(string type)
    {
        Assert.True(s_envelope.Evaluate(Envelope(type, Golden.Data(type, "complete"))).IsValid);
        Assert.False(s_envelope.Evaluate(Envelope(type, JsonSerializer.SerializeToElement(new { nothing = 1 }))).IsValid);
    }

    [Theory]
    [InlineData("specversion", "\"0.3\"")]
    [InlineData("id", "\"\"")]
    [InlineData("id", "7")]
    [InlineData("source", "\"/plant/cage 1\"")]
    [InlineData("type", "\"cage.tied\"")]
    [InlineData("time", "\"2026-03-02T09:30:00\"")]
    [InlineData("time", "\"2 March\"")]
    [InlineData("clockoffsetms", "1.5")]
    [InlineData("clockoffsetms", "9000000000000")]
    [InlineData("deviceseq", "\"x\"")]
    [InlineData("Person", "\"p-017\"")]
    [InlineData("traceparent", "{}")]
    [InlineData("data", null)]
    [InlineData("time", null)]
    public void Envelope_and_reader_refuse_the_same_wrong_attributes(string name, string? value)
    {
        var wrong = JsonObject.Create(Envelope("form.oiled.v1", Golden.Data("form.oiled.v1", "complete")))!;
        wrong.Remove(name);
        if (value is not null) wrong[name] = JsonNode.Parse(value);
        var sent = JsonSerializer.SerializeToElement(wrong);

        Assert.False(s_envelope.Evaluate(sent).IsValid);
        if ((name, value) == ("type", "\"cage.tied\"")) return; // An unknown type is quarantined with a receipt, not refused.
        var refused = Assert.Throws<FactShapeException>(() => Core.Records.CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(sent)));
        Assert.Contains(refused.Problems, p => p.Field == name);
    }

    [Theory]
    [InlineData("clockoffsetms", "\"-120\"")]
    [InlineData("deviceseq", "\"42\"")]
    [InlineData("deviceseq", "null")]
    [InlineData("person", "null")]
    [InlineData("subject", "null")]
    [InlineData("datacontenttype", "null")]
    public void Envelope_and_reader_take_the_same_attributes(string name, string value)
    {
        var right = JsonObject.Create(Envelope("form.oiled.v1", Golden.Data("form.oiled.v1", "complete")))!;
        right[name] = JsonNode.Parse(value);

        Assert.True(s_envelope.Evaluate(JsonSerializer.SerializeToElement(right)).IsValid);
        Assert.Equal("form.oiled.v1", Core.Records.CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(right)).Type);
    }

    [Fact]
    public void An_attribute_without_a_name_is_refused_in_words()
    {
        var wrong = JsonObject.Create(Envelope("form.oiled.v1", Golden.Data("form.oiled.v1", "complete")))!;
        wrong[""] = 1;

        Assert.Equal("an attribute without a name", Assert.Single(Assert.Throws<FactShapeException>(() => Core.Records.CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(wrong))).Problems).Field);
    }

    [Fact]
    public void A_member_is_nullable_exactly_where_its_default_is_null()
    {
        // The shape takes "may be left out" from the default; the compiler's nullability must say the same.
        var nullability = new NullabilityInfoContext();
        var contents = FactCatalog.All.Values.SelectMany(t => Parts(t.Clr)).Distinct();

        Assert.All(contents.SelectMany(c => c.GetConstructors().MaxBy(k => k.GetParameters().Length)!.GetParameters()), p =>
            Assert.Equal(p is { HasDefaultValue: true, DefaultValue: null }, nullability.Create(p).WriteState == NullabilityState.Nullable));
    }

    private static IEnumerable<Type> Parts(Type clr) => clr.GetConstructors().MaxBy(k => k.GetParameters().Length)!.GetParameters()
        .Select(p => p.ParameterType is { IsGenericType: true } generic ? generic.GetGenericArguments()[0] : p.ParameterType)
        .Where(t => t is { IsClass: true, IsPrimitive: false } && t.Assembly == typeof(IFact).Assembly).SelectMany(Parts).Prepend(clr);

    internal static JsonElement Envelope(string type, JsonElement data) => JsonSerializer.SerializeToElement(new
    {
        specversion = "1.0",
        id = "cage-1-00042",
        source = "/plant/cage-1",
        type,
        time = "2026-03-02T09:30:00-05:00",
        datacontenttype = "application/json",
        person = "p-017",
        clockoffsetms = 120,
        deviceseq = 42,
        deviceprev = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
        assurance = "pin",
        data,
    });
}
