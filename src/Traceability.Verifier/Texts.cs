using System.Text.Json;

namespace Traceability.Verifier;

/// <summary>Members of JSON texts as the checks ask for them; what has another type is not there.</summary>
internal static class Texts
{
    /// <summary>Bytes of one JSON text that is read whole. Our own choice: some twenty times the largest packet's.</summary>
    internal const long Most = (32L << 20) - 1024;

    /// <summary>Names and values of one JSON text. Each takes a dozen bytes beside the text, so that they are counted before it is taken in.</summary>
    private const int MostTokens = 3_000_000;

    /// <exception cref="JsonException">Not one JSON text in UTF-8, a name is used twice in one object, or it is too large to be one of a packet.</exception>
    internal static JsonDocument Parse(ReadOnlyMemory<byte> json)
    {
        var reader = new Utf8JsonReader(json.Span);
        var tokens = 0;
        while (reader.Read())
        {
            if (++tokens > MostTokens)
            {
                throw new JsonException("It has too many members for a text of a packet.");
            }
        }

        return JsonDocument.Parse(json, new JsonDocumentOptions { AllowDuplicateProperties = false });
    }

    internal static string? Text(JsonElement of, string name) =>
        of.ValueKind == JsonValueKind.Object && of.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.String
            ? value.GetString() : null;

    internal static long? Number(JsonElement of, string name) =>
        of.ValueKind == JsonValueKind.Object && of.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.Number
            && value.TryGetInt64(out var number) ? number : null;

    internal static JsonElement Member(JsonElement of, string name) =>
        of.ValueKind == JsonValueKind.Object && of.TryGetProperty(name, out var value) ? value : default;

    internal static IEnumerable<JsonProperty> Object(JsonElement of, string name) =>
        Member(of, name) is { ValueKind: JsonValueKind.Object } value ? value.EnumerateObject() : [];

    internal static IEnumerable<JsonElement> Array(JsonElement of, string name) =>
        Member(of, name) is { ValueKind: JsonValueKind.Array } value ? value.EnumerateArray() : [];

    /// <summary>The texts of an array; null where it is none, or holds anything else.</summary>
    internal static IReadOnlyList<string>? Strings(JsonElement of, string name)
    {
        if (Member(of, name) is not { ValueKind: JsonValueKind.Array } array)
        {
            return null;
        }

        var items = array.EnumerateArray().ToList();
        return items.TrueForAll(i => i.ValueKind == JsonValueKind.String) ? items.ConvertAll(i => i.GetString()!) : null;
    }

    /// <summary>Hashes of 32 bytes each; null where one is anything else.</summary>
    internal static byte[][]? Hashes(JsonElement of, string name)
    {
        if (Strings(of, name) is not { Count: <= 64 * 2 } texts)
        {
            return null;
        }

        try
        {
            byte[][] hashes = [.. texts.Select(Convert.FromHexString)];
            return hashes.All(h => h.Length == 32) ? hashes : null;
        }
        catch (FormatException)
        {
            return null;
        }
    }
}
