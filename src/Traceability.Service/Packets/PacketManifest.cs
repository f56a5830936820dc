using System.Security.Cryptography;
using System.Text.Json;
using Traceability.Core.Events;

namespace Traceability.Service.Packets;

/// <summary>What the manifests of issued documents say of their forms and of what is still to come.</summary>
public static class PacketManifest
{
    private sealed record Read(string Document, string Sha256, IReadOnlyDictionary<(string, string), FormPages> Forms, IReadOnlyList<PendingItem> Pending, IReadOnlyList<PendingItem> Answers);

    /// <summary>What the next supplement starts from.</summary>
    /// <param name="manifests">Of a packet and of its supplements, in order.</param>
    public static Supplemented Next(IReadOnlyList<byte[]> manifests)
    {
        var read = manifests.Select(Open).ToList();
        var answered = read.SelectMany(m => m.Answers).ToHashSet();
        return new Supplemented(read[0].Document, read.Count, read[0].Sha256,
            read.SelectMany(m => m.Forms).GroupBy(f => f.Key).ToDictionary(g => g.Key, g => g.Last().Value), [.. read[0].Pending.Where(p => !answered.Contains(p))]);
    }

    private static Read Open(byte[] manifest)
    {
        using var json = JsonDocument.Parse(manifest);
        var root = json.RootElement;
        var document = root.GetProperty("packet").GetString()!;
        var forms = new Dictionary<(string, string), FormPages>();
        foreach (var unit in root.GetProperty("pages").EnumerateObject())
        {
            foreach (var form in unit.Value.EnumerateObject())
                forms[(unit.Name, form.Name)] = new(document, form.Value.GetProperty("from").GetInt32(), form.Value.GetProperty("through").GetInt32(), form.Value.GetProperty("content").GetString()!);
        }

        return new(document, Convert.ToHexStringLower(SHA256.HashData(manifest)), forms, Items(root.GetProperty("pending")),
            root.TryGetProperty("supplement", out var supplement) ? Items(supplement.GetProperty("answers")) : []);
    }

    private static IReadOnlyList<PendingItem> Items(JsonElement items) => items.Deserialize<IReadOnlyList<PendingItem>>(JsonSerializerOptions.Web)!;
}
