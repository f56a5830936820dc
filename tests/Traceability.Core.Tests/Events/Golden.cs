using System.Text.Json;
using Traceability.Core.Events;

namespace Traceability.Core.Tests.Events;

/// <summary>
/// The frozen contents: of every fact type a complete and a minimal one; others where members exclude each other, and
/// "earlier" ones, the complete contents of a time when the type had fewer members.
/// </summary>
internal static class Golden
{
    private static readonly ILookup<string, string> s_forms = Directory.GetFiles(Repository.Path("tests", "Traceability.Core.Tests", "Events", "golden"))
        .Select(f => Path.GetFileNameWithoutExtension(f)!).Order(StringComparer.Ordinal)
        .ToLookup(f => f[..f.LastIndexOf('.')], f => f[(f.LastIndexOf('.') + 1)..], StringComparer.Ordinal);

    public static IEnumerable<string> Forms(string type) => s_forms[type];

    public static IEnumerable<string> AllTypes => s_forms.Select(f => f.Key);

    public static byte[] Bytes(string type, string form) => File.ReadAllBytes(Repository.Path("tests", "Traceability.Core.Tests", "Events", "golden", $"{type}.{form}.json"));

    public static JsonElement Data(string type, string form) => JsonDocument.Parse(Bytes(type, form)).RootElement;

    public static IFact Fact(string type, string form = "complete") => FactCatalog.Read(FactCatalog.All[type], Data(type, form));

    public static TheoryData<string> Types() => [.. FactCatalog.All.Keys.Order(StringComparer.Ordinal)];
}
