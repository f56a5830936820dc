using System.Text;
using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Tests.Events;

/// <summary>What was once sent must be readable for ever: these files may be added to, never changed.</summary>
public class GoldenTests
{
    public static TheoryData<string> Types => Golden.Types();

    [Theory, MemberData(nameof(Types))]
    public void What_is_read_is_written_back_as_the_same_canonical_bytes(string type)
    {
        foreach (var form in Golden.Forms(type))
        {
            var fact = Golden.Fact(type, form);

            Assert.Equal(
                Encoding.UTF8.GetString(CanonicalJson.Canonicalize(Golden.Bytes(type, form))),
                Encoding.UTF8.GetString(CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(FactCatalog.Write(fact)))));
            Assert.Equal(type, FactCatalog.Of(fact).Type);
        }
    }

    [Theory, MemberData(nameof(Types))]
    public void The_complete_form_shows_every_member_and_the_minimal_one_only_what_is_required(string type)
    {
        var shape = FactCatalog.All[type].Shape;

        Assert.Empty(Absent(shape, [Golden.Data(type, "complete"), .. Golden.Forms(type).Where(f => f is not ("complete" or "minimal") && !f.StartsWith("earlier", StringComparison.Ordinal)).Select(f => Golden.Data(type, f))], "data", m => true));
        Assert.Empty(Present(shape, Golden.Data(type, "minimal"), "data"));
    }

    [Theory, MemberData(nameof(Types))]
    public void Every_required_member_that_is_taken_away_is_named(string type)
    {
        var shape = FactCatalog.All[type].Shape;
        var whole = Golden.Data(type, "minimal");

        foreach (var member in shape.Members.Where(m => m.Required))
        {
            var rest = JsonSerializer.SerializeToElement(whole.EnumerateObject().Where(p => p.Name != member.Name).ToDictionary(p => p.Name, p => p.Value));

            var refused = Assert.Throws<FactShapeException>(() => FactCatalog.Read(FactCatalog.All[type], rest));

            var problem = Assert.Single(refused.Problems);
            Assert.Equal(("data." + member.Name, "is required"), (problem.Field, problem.Limit));
            Assert.NotEmpty(problem.Remedy);
        }
    }

    [Fact]
    public void No_golden_file_is_left_over()
    {
        Assert.Equal(FactCatalog.All.Keys.Order(StringComparer.Ordinal), Golden.AllTypes);
        Assert.All(Golden.AllTypes, type => Assert.Superset(new HashSet<string> { "complete", "minimal" }, Golden.Forms(type).ToHashSet()));
    }

    private static IEnumerable<string> Absent(FactShape shape, IReadOnlyList<JsonElement> values, string path, Func<ShapeMember, bool> wanted)
    {
        foreach (var member in shape.Members.Where(wanted))
        {
            var found = values.Where(v => v.TryGetProperty(member.Name, out _)).Select(v => v.GetProperty(member.Name)).ToList();
            var name = path + "." + member.Name;
            if (found.Count == 0) yield return name;
            var inner = member.Shape.Kind == ShapeKind.List ? found.SelectMany(f => f.EnumerateArray()).ToList() : found;
            var innerShape = member.Shape.Element ?? member.Shape;
            foreach (var absent in Absent(innerShape, inner, name, wanted)) yield return absent;
        }
    }

    private static IEnumerable<string> Present(FactShape shape, JsonElement value, string path)
    {
        foreach (var member in shape.Members.Where(m => value.TryGetProperty(m.Name, out _)))
        {
            var name = path + "." + member.Name;
            if (!member.Required) yield return name;
            var content = value.GetProperty(member.Name);
            var inner = member.Shape.Kind == ShapeKind.List ? [.. content.EnumerateArray()] : new[] { content };
            foreach (var present in inner.SelectMany(i => Present(member.Shape.Element ?? member.Shape, i, name))) yield return present;
        }
    }
}
