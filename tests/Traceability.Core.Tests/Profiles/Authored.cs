using Traceability.Core.Profiles;
using Traceability.PlantSimulator.Story;

namespace Traceability.Core.Tests.Profiles;

/// <summary>Profile files written in a test, read and compiled as an author's would be.</summary>
internal static class Authored
{
    public const string Root = """
        profile: root
        version: 1
        title: "Invented root"
        rounding: halfUp
        releases: [pour, ship]
        rank: generalStandard
        limits:
          - { key: discharge.minutes, value: "90", unit: min, printed: "90 min", source: { document: "Invented standard", edition: "2026", clause: "1", mark: commonPractice } }
          - { key: cover.increase, value: "1/2", unit: in, printed: "+1/2 in", source: { document: "Invented standard", edition: "2026", clause: "2", mark: commonPractice } }
          - { key: fresh.temperature.min, value: "50", unit: F, printed: "50 F", source: { document: "Invented standard", edition: "2026", clause: "3", mark: commonPractice } }
          - { key: sampling.volume, value: "150", unit: yd3, printed: "every 150 yd3", source: { document: "Invented standard", edition: "2026", clause: "4", mark: commonPractice } }
          - { key: acceptance.age, value: "28", unit: days, printed: "28 days", source: { document: "Invented standard", edition: "2026", clause: "5", mark: commonPractice } }
          - { key: fresh.air.tolerance, value: "1.5", unit: pct, printed: "+-1.5 %", source: { document: "Invented standard", edition: "2026", clause: "6", mark: commonPractice } }
        """;

    /// <summary>The head of a file that inherits the root.</summary>
    public const string Child = """
        profile: child
        version: 1
        inherits: root@1

        """;

    /// <summary>A statement on one line.</summary>
    public static string Limit(string key, string value, string unit, string rank = "standardSpecification", string more = "") =>
        $$"""  - { key: {{key}}, value: "{{value}}", unit: {{unit}}, printed: "{{value}} {{unit}}", rank: {{rank}}, source: { document: "Invented document", edition: "2026", clause: "9", mark: commonPractice }{{more}} }""";

    public static Compiled Compile(string yaml, params string[] parents)
    {
        var (document, errors) = ProfileFile.Read("child.yaml", new StringReader(yaml));
        if (document is null) return new(null, errors);
        var all = parents.Append(Root).Select((p, i) => ProfileFile.Read($"parent{i}.yaml", new StringReader(p)).Document!).ToDictionary(d => d.Name, StringComparer.Ordinal);
        return ProfileCompiler.Compile(document, name => name == document.Name ? document : all.GetValueOrDefault(name));
    }

    public static ProfileError Error(string yaml, params string[] parents) => Assert.Single(Compile(yaml, parents).Errors);
}
