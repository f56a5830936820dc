using System.Globalization;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Json.Schema;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Tests;
using Traceability.PlantSimulator.Story;
using YamlDotNet.RepresentationModel;

namespace Traceability.Service.Tests.Hostile;

/// <summary>Files of limits. What is read has the schema of such files, and what is compiled of it is a fact that intake reads.</summary>
internal sealed class ProfileTarget : Target
{
    private static readonly string[] s_right = [.. Directory.GetFiles(Repository.Path("src", "Traceability.Core", "Profiles", "Data"), "*.yaml").Order(StringComparer.Ordinal).Select(File.ReadAllText), Whole];

    private static readonly JsonSchema s_schema = JsonSchema.FromText(ProfileSchema.Create().ToJsonString(), new BuildOptions { SchemaRegistry = new SchemaRegistry() }, new Uri("https://plant.example/"));

    private static readonly Dictionary<string, ProfileDocument> s_shipped = ProfileFile.AllShipped.ToDictionary(d => d.Name, StringComparer.Ordinal);

    // Every kind of member once, and a parent that the program carries.
    private const string Whole = """
        profile: hostile
        version: 3
        title: "Invented special provision"
        agency: "Invented department"
        inherits: rigid-frame-baseline@1
        rank: specialProvision
        rounding: halfUp
        releases: [pour, ship]
        precedence: [specialProvision, plan, standardSpecification, generalStandard]
        editions: { }
        holds:
          - { hold: pour, authority: plant, validHours: "24", expiresOn: [], noticeHours: "48", releasedBy: plantInspector, source: "Invented provision 1" }
        limits:
          - { key: discharge.minutes, value: "60", unit: min, printed: "60 min", source: { document: "Invented provision", edition: "2026", clause: "1", mark: commonPractice }, confirmedBy: p-101, confirmedOn: "2026-03-02", confirmedPage: "4" }
          - { key: cover.increase, value: "1/2", unit: in, printed: "+1/2 in", rank: shopDrawing, drawing: "S-1", source: { document: "Invented drawing", mark: commonPractice } }
        notAsked: []
        """;

    private static readonly string[] s_scalars =
    [
        "", "~", "null", "true", "yes", "0", "-1", "1e3", ".inf", "0x1F", "0o7", "1_000", "2026-03-02", "12:30:45", "\"\"", "\" \"", "''", "none", "*a", "&a x", "!!binary aGk=", "!!int \"3\"", "!<tag:x> y", "|\n  block", ">-\n  folded", "? x", "- - - x", "[", "]", "{", "}", "[]", "{}",
        "[[]]", "{a: b}", "{a: {a: {a: b}}}", "\"\\ud800\"", "\"\\x00\"", "\"\\u202e\"", "\"\\", "@x", "`x`", "%x", "# c", "<<: *a", "1/2", "\"1 1/2\"", "\"9/8\"", "\"1/0\"", "\"-1\"", "\"00000000000000000001\"", "\"99999999999\"", "99999999999999999999", "rigid-frame-baseline@1", "hostile@3", "plantPlan", "shopDrawing", "\u0430", "\uff11", "\u2028",
    ];

    private static readonly string[] s_lines =
    [
        "---", "...", "%YAML 1.1", "%TAG ! tag:x,2026:", "a: &a [1, 2]", "b: *a", "<<: *a", "? [complex, key]\n: value", "? {a: b}\n: c", "profile: other", "version: 4", "\tx: y", "- x", "x", ": x", "x:", "limits: []", "limits:\n- &l {key: x}\n- *l", "a: &a [*a]", "key: {<<: [*a, *b]}",
        "title: \"" + "x\\\n  ", "title: 'it''s'", "\u00a0x: y", "\ufeffprofile: x", "x: !!set {a, b}", "\0", "\u0085x: y", "{a: b}", "[a, b]", "rank: plantPlan", "inherits: hostile@3", "inherits: none@1", "holds: {}", "editions: {x: y}",
    ];

    public override string Name => "profiles";

    public override int Share => 450;

    public override Task<Answer> TryAsync(Attempt attempt)
    {
        var bytes = attempt.Keep("profile.yaml", Make(attempt));
        using var reader = new StreamReader(new MemoryStream(bytes));
        var (document, errors) = ProfileFile.Read("profile.yaml", reader);
        if (document is null)
        {
            InWords(errors);
            return Task.FromResult(Answer.Refused);
        }

        Attempt.Require(errors.Count == 0, "read and refused at once");
        HasSchema(bytes);
        var compiled = ProfileCompiler.Compile(document, name => name == document.Name ? document : s_shipped.GetValueOrDefault(name));
        if (compiled.Profile is null)
        {
            InWords(compiled.Errors);
            return Task.FromResult(Answer.Refused);
        }

        var type = FactCatalog.Of(compiled.Profile);
        var written = FactCatalog.Write(compiled.Profile);
        try
        {
            Attempt.Require(FactCatalog.Write(FactCatalog.Read(type, written)).GetRawText() == written.GetRawText(), "the profile reads to another from the fact that publishes it");
        }
        catch (FactShapeException e)
        {
            throw new WrongAnswerException("a profile was compiled that cannot be published: " + e.Message);
        }

        return Task.FromResult(Answer.Taken);
    }

    private static void InWords(IReadOnlyList<ProfileError> errors) =>
        Attempt.Require(errors.Count > 0 && errors.All(e => e.Line > 0 && e.Reason.Length > 8 && e.Remedy.Length > 4), "refused without a line, a reason or a remedy");

    private static void HasSchema(byte[] bytes)
    {
        using var reader = new StreamReader(new MemoryStream(bytes));
        var stream = new YamlStream();
        stream.Load(reader);
        var json = JsonSerializer.SerializeToElement(Json(stream.Documents[0].RootNode, ""));
        // The outside validator counts what is seen as one character as one.
        if (json.GetRawText().Contains("\\u", StringComparison.Ordinal)) return;
        Attempt.Require(s_schema.Evaluate(json).IsValid, "read, and refused by the schema of such files");
    }

    // Every figure is a text, as the reader takes its digits; the version is a number.
    private static JsonNode Json(YamlNode node, string name) => node switch
    {
        YamlMappingNode map => new JsonObject(map.Children.Select(c => KeyValuePair.Create(((YamlScalarNode)c.Key).Value!, (JsonNode?)Json(c.Value, ((YamlScalarNode)c.Key).Value!)))),
        YamlSequenceNode list => new JsonArray([.. list.Children.Select(n => Json(n, ""))]),
        YamlScalarNode { Value: { } plain } when name == "version" && int.TryParse(plain, NumberStyles.None, CultureInfo.InvariantCulture, out var number) => JsonValue.Create(number),
        YamlScalarNode scalar => JsonValue.Create(scalar.Value ?? ""),
        _ => throw new InvalidOperationException(),
    };

    private static byte[] Make(Attempt a)
    {
        var right = a.Of(s_right);
        // Most of a shipped file says the same of another key: some of it is enough.
        var lines = right.Split('\n').ToList();
        if (lines.Count > 60 && !a.OneIn(20)) lines = [.. lines.TakeWhile(l => !l.StartsWith("limits", StringComparison.Ordinal)), "limits:", .. lines.Where(l => l.StartsWith("  - {", StringComparison.Ordinal)).Skip(a.Below(20)).Take(6)];
        if (a.OneIn(20)) return Encoding.UTF8.GetBytes(right);
        if (a.OneIn(60)) return Deep(a);
        if (a.OneIn(10)) return Spoil.Bytes(a, Encoding.UTF8.GetBytes(string.Join('\n', lines)), Encoding.UTF8.GetBytes(a.Of(s_right)));
        for (var changes = 1 + a.Below(3); changes > 0 && lines.Count > 0; changes--) Change(a, lines);
        var text = string.Join(a.OneIn(30) ? "\r\n" : "\n", lines);
        return (a.OneIn(40) ? Encoding.Unicode : Encoding.UTF8).GetBytes(text);
    }

    private static void Change(Attempt a, List<string> lines)
    {
        var at = a.Below(lines.Count);
        switch (a.Below(9))
        {
            case 0:
                lines.RemoveAt(at);
                break;
            case 1:
                lines.Insert(at, lines[a.Below(lines.Count)]);
                break;
            case 2:
                lines.Insert(at, a.Of(s_lines));
                break;
            case 3:
                lines[at] = a.OneIn(2) ? " " + lines[at] : lines[at].TrimStart();
                break;
            case 4 when lines[at].Contains(':', StringComparison.Ordinal):
                lines[at] = lines[at][..(lines[at].IndexOf(':', StringComparison.Ordinal) + 1)] + " " + Scalar(a);
                break;
            case 5:
                lines[at] = Spoil.Text(a, lines[at]);
                break;
            default:
                // One of the values in braces, or its name.
                var parts = lines[at].Split(", ");
                var part = a.Below(parts.Length);
                parts[part] = a.Below(4) switch
                {
                    0 => parts[part] + ", " + parts[part],
                    1 => a.Of(parts),
                    2 when parts[part].Split(':')[0].Trim('{', ' ', '-') is { Length: > 0 } name => parts[part].Replace(name, a.Of((string[])["key", "value", "unit", "printed", "rank", "drawing", "x", ""]), StringComparison.Ordinal),
                    _ => parts[part].Split(": ")[0] + ": " + Scalar(a),
                };
                lines[at] = string.Join(", ", parts);
                break;
        }
    }

    private static string Scalar(Attempt a) => a.OneIn(12) ? "\"" + new string('x', a.Of((int[])[39, 40, 41, 80, 81, 100, 101, 200, 201, 300, 301, 5000])) + "\"" : a.Of(s_scalars);

    // Nested past any use, doubling itself, or long.
    private static byte[] Deep(Attempt a)
    {
        var depth = a.Of((int[])[50, 500, 5000, 50_000]);
        return Encoding.UTF8.GetBytes(a.Below(6) switch
        {
            0 => string.Concat(Enumerable.Repeat("[", depth)),
            1 => "profile: " + string.Concat(Enumerable.Repeat("[", depth)) + "x" + string.Concat(Enumerable.Repeat("]", depth)),
            2 => "limits:\n" + string.Concat(Enumerable.Range(0, Math.Min(depth, 2000)).Select(i => new string(' ', i) + "a:\n")) + new string(' ', Math.Min(depth, 2000)) + "b",
            3 => "- " + string.Concat(Enumerable.Repeat("- ", Math.Min(depth, 5000))) + "x",
            4 => string.Concat(Enumerable.Range(0, 30).Select(i => i == 0 ? "a0: &a0 [x, x]\n" : $"a{i}: &a{i} [*a{i - 1}, *a{i - 1}, *a{i - 1}]\n")),
            _ => string.Concat(Enumerable.Repeat("{a: ", depth)),
        });
    }
}
