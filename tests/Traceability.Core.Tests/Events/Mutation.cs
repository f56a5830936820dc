using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Events;

namespace Traceability.Core.Tests.Events;

/// <summary>Every way to break one member of a content, each with the path it breaks first.</summary>
internal static class Mutation
{
    public static IEnumerable<(string What, JsonElement Wrong)> All(FactShape shape, JsonElement content)
    {
        foreach (var (path, steps, place) in Places(shape, "data", [], content))
        {
            foreach (var (what, value) in Wrongs(place))
            {
                var wrong = JsonObject.Create(content)!.DeepClone().AsObject();
                if (!Put(wrong, steps, value)) continue;
                yield return ($"{path} {what}", JsonSerializer.SerializeToElement(wrong));
            }
        }

        foreach (var (path, steps) in Objects(shape, "data", [], content))
        {
            var wrong = JsonObject.Create(content)!.DeepClone().AsObject();
            Put(wrong, [.. steps, "notOfThisType"], JsonValue.Create(1));
            yield return ($"{path}.notOfThisType unknown member", JsonSerializer.SerializeToElement(wrong));
        }
    }

    private static IEnumerable<(string Path, object[] Steps, (FactShape Shape, bool Nullable) Place)> Places(FactShape shape, string path, object[] steps, JsonElement value)
    {
        foreach (var member in shape.Members)
        {
            if (!value.TryGetProperty(member.Name, out var content)) continue;
            var name = $"{path}.{member.Name}";
            object[] here = [.. steps, member.Name];
            yield return (name, here, (member.Shape, member.Nullable));
            if (member.Shape.Kind == ShapeKind.List && content.GetArrayLength() > 0)
            {
                yield return ($"{name}[0]", [.. here, 0], (member.Shape.Element!, false));
                foreach (var inner in Places(member.Shape.Element!, $"{name}[0]", [.. here, 0], content[0])) yield return inner;
            }
            else if (member.Shape.Kind == ShapeKind.Object)
            {
                foreach (var inner in Places(member.Shape, name, here, content)) yield return inner;
            }
        }
    }

    private static IEnumerable<(string Path, object[] Steps)> Objects(FactShape shape, string path, object[] steps, JsonElement value) =>
        Places(shape, path, steps, value).Where(p => p.Place.Shape.Kind == ShapeKind.Object).Select(p => (p.Path, p.Steps)).Prepend((path, steps));

    private static IEnumerable<(string What, JsonNode? Value)> Wrongs((FactShape Shape, bool Nullable) place)
    {
        var shape = place.Shape;
        if (!place.Nullable) yield return ("null", null);
        yield return ("list in a list", new JsonArray(new JsonArray()));
        if (shape.Kind is not ShapeKind.Flag) yield return ("boolean", JsonValue.Create(true));
        if (shape.Kind is not (ShapeKind.Object or ShapeKind.Content)) yield return ("object", new JsonObject());
        switch (shape.Kind)
        {
            case ShapeKind.Reading:
                foreach (var text in new[] { "", "1,5", "1.", ".5", "+1", "1e3", "0x1", "1 1/3", "1/0", "NaN", " 1", "1 ", "1\0", "1\0 1/2", new string('1', 25) }) yield return ($"reading '{text}'", JsonValue.Create(text));
                yield return ("number", JsonValue.Create(1.5));
                break;
            case ShapeKind.Whole:
                yield return ("fraction", JsonValue.Create(1.5));
                yield return ("text", JsonValue.Create("1"));
                yield return ("huge", JsonValue.Create(1e30));
                if (shape.Smallest > long.MinValue + 1) yield return ("too small", JsonValue.Create(shape.Smallest - 1));
                break;
            case ShapeKind.Identity:
                foreach (var text in new[] { "", " x", "x ", "a\nb", "a\u0085b", new string('x', shape.Longest + 1) }) yield return ($"identity '{text}'", JsonValue.Create(text));
                break;
            case ShapeKind.Text:
                if (!shape.MayBeBlank) yield return ("blank", JsonValue.Create("  "));
                yield return ("long text", JsonValue.Create(new string('x', shape.Longest + 1)));
                break;
            case ShapeKind.Choice:
                yield return ("unknown choice", JsonValue.Create("other"));
                yield return ("choice in capitals", JsonValue.Create(shape.Choices[0].ToUpperInvariant()));
                yield return ("choice by number", JsonValue.Create(0));
                break;
            case ShapeKind.Time:
                foreach (var text in new[] { "2026-03-02", "2026-03-02T09:30:00", "2026-03-02 09:30:00Z", "2026-03-02T25:00:00Z", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z" }) yield return ($"time '{text}'", JsonValue.Create(text));
                break;
            case ShapeKind.Day:
                foreach (var text in new[] { "2026-3-2", "02.03.2026", "2026-13-01", "0001-01-01", "9999-12-31", "2026-03-02T00:00:00Z" }) yield return ($"day '{text}'", JsonValue.Create(text));
                break;
            case ShapeKind.Id:
                yield return ("not a uuid", JsonValue.Create("7"));
                break;
            case ShapeKind.List:
                yield return ("too many entries", new JsonArray([.. Enumerable.Range(0, shape.Most + 1).Select(_ => (JsonNode?)null)]));
                if (shape.Fewest > 0) yield return ("no entries", new JsonArray());
                break;
        }
    }

    private static bool Put(JsonNode root, IReadOnlyList<object> steps, JsonNode? value)
    {
        var at = root;
        foreach (var step in steps.Take(steps.Count - 1)) at = step is string name ? at![name] : at![(int)step];
        if (steps[^1] is string last) at!.AsObject()[last] = value?.DeepClone();
        else at!.AsArray()[(int)steps[^1]] = value?.DeepClone();
        return true;
    }
}
