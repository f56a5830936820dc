using System.Text.Json;
using Traceability.Core.Events;

namespace Traceability.Core.Tests.Events;

/// <summary>The frozen contents, one complete and one minimal per fact type.</summary>
internal static class Golden
{
    public static readonly IReadOnlyList<string> Forms = ["complete", "minimal"];

    public static byte[] Bytes(string type, string form) => File.ReadAllBytes(Repository.Path("tests", "Traceability.Core.Tests", "Events", "golden", $"{type}.{form}.json"));

    public static JsonElement Data(string type, string form) => JsonDocument.Parse(Bytes(type, form)).RootElement;

    public static IFact Fact(string type, string form = "complete") => FactCatalog.Read(FactCatalog.All[type], Data(type, form));

    public static TheoryData<string> Types() => [.. FactCatalog.All.Keys.Order(StringComparer.Ordinal)];
}
