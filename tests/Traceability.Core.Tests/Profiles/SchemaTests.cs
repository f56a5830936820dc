using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using Json.Schema;
using Traceability.Core.Profiles;
using Traceability.PlantSimulator.Story;
using YamlDotNet.RepresentationModel;

namespace Traceability.Core.Tests.Profiles;

/// <summary>The schema of profile files as an outside implementation of JSON Schema, draft 2020-12, reads it.</summary>
public sealed class SchemaTests
{
    private static readonly JsonSchema Schema = JsonSchema.FromText(ProfileSchema.Create().ToJsonString(), new BuildOptions { SchemaRegistry = new SchemaRegistry() }, new Uri("https://plant.example/"));

    private static readonly JsonSerializerOptions Indented = new() { WriteIndented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static TheoryData<string> Files => [.. Directory.GetFiles(Repository.Path("src", "Traceability.Core", "Profiles", "Data"), "*.yaml").Select(f => Path.GetFileName(f)!).Order(StringComparer.Ordinal)];

    private static bool IsValid(string yaml)
    {
        var stream = new YamlStream();
        stream.Load(new StringReader(yaml));
        return Schema.Evaluate(JsonSerializer.SerializeToElement(Json(stream.Documents[0].RootNode))).IsValid;
    }

    // As YAML itself types a scalar: only a plain one of digits is a number.
    private static JsonNode Json(YamlNode node) => node switch
    {
        YamlMappingNode map => new JsonObject(map.Children.Select(c => KeyValuePair.Create(((YamlScalarNode)c.Key).Value!, (JsonNode?)Json(c.Value)))),
        YamlSequenceNode list => new JsonArray([.. list.Children.Select(Json)]),
        YamlScalarNode { Style: YamlDotNet.Core.ScalarStyle.Plain, Value: { } plain } when int.TryParse(plain, System.Globalization.CultureInfo.InvariantCulture, out var number) => JsonValue.Create(number),
        YamlScalarNode scalar => JsonValue.Create(scalar.Value ?? ""),
        _ => throw new InvalidOperationException(),
    };

    [Theory, MemberData(nameof(Files))]
    public void Every_file_that_the_core_carries_is_valid(string file) =>
        Assert.True(IsValid(File.ReadAllText(Repository.Path("src", "Traceability.Core", "Profiles", "Data", file))));

    [Fact]
    public void The_file_tests_write_is_valid() => Assert.True(IsValid(Authored.Root));

    [Theory]
    [InlineData("profile: root", "profil: root")]
    [InlineData("version: 1", "version: 0")]
    [InlineData("version: 1", "version: \"1\"")]
    [InlineData("rounding: halfUp", "rounding: halfDown")]
    [InlineData("releases: [pour, ship]", "releases: pour")]
    [InlineData("releases: [pour, ship]", "releases: [[pour], ship]")]
    [InlineData("printed: \"90 min\",", "printed: \"90 min\", products: [{ box-culvert: x }],")]
    [InlineData("key: discharge.minutes", "key: discharge.minuets")]
    [InlineData("unit: min", "unit: h")]
    [InlineData("value: \"90\"", "value: 90")]
    [InlineData("value: \"90\"", "value: \"-90\"")]
    [InlineData("printed: \"90 min\",", "")]
    [InlineData("mark: commonPractice", "mark: sure")]
    [InlineData("rank: generalStandard", "rank: strongest")]
    public void Schema_and_reader_refuse_the_same_mistakes(string right, string wrong)
    {
        var at = Authored.Root.IndexOf(right, StringComparison.Ordinal);
        var yaml = Authored.Root[..at] + wrong + Authored.Root[(at + right.Length)..];

        Assert.False(IsValid(yaml));
        // YAML types 90 a number and "1" a text; the reader takes the digits as they are written, either way.
        if (wrong is not ("value: 90" or "version: \"1\"")) Assert.NotEmpty(ProfileFile.Read("wrong.yaml", new StringReader(yaml)).Errors);
    }

    [Theory]
    [InlineData(100, true)]
    [InlineData(101, false)]
    public void The_name_of_what_is_inherited_is_as_long_to_the_reader_as_to_the_schema(int length, bool right)
    {
        var yaml = Authored.Root + "\ninherits: " + new string('x', length);

        Assert.Equal((right, right), (IsValid(yaml), ProfileFile.Read("child.yaml", new StringReader(yaml)).Document is not null));
    }

    [Fact]
    public void The_schema_in_the_documents_is_the_one_that_is_served() =>
        Repository.AssertGenerated(ProfileSchema.Create().ToJsonString(Indented) + "\n", "docs", "profile-file.schema.json");

    [Fact]
    public void Every_key_and_choice_is_explained()
    {
        Assert.All(LimitKeys.All, k => Assert.True(k.What.Length > 5 && k.Unit.Length > 0));
        Assert.All(LimitKeys.Editions, e => Assert.True(e.What.Length > 20 && e.Values.Count > 1));
    }
}
