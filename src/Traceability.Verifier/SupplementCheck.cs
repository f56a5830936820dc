using System.Text.Json;
using static Traceability.Verifier.Texts;

namespace Traceability.Verifier;

/// <summary>What a supplement says of the packet it supplements, and whether that is so.</summary>
internal sealed partial class PacketCheck
{
    private void CheckSupplement(PacketFiles? of)
    {
        var isSupplement = false;
        ReadJson(Manifest, 8 << 20, manifest =>
        {
            if (!manifest.TryGetProperty("supplement", out var supplement) || supplement.ValueKind == JsonValueKind.Null)
            {
                return;
            }

            isSupplement = true;
            var (packet, number, hash) = (Text(supplement, "packet"), Number(supplement, "number"), Text(supplement, "manifestSha256"));
            if (packet is null || number is not > 0 || hash is not { Length: 64 })
            {
                _report.Wrong(Manifest, "It is a supplement and does not say to which packet, with which number, over which manifest.");
                return;
            }

            var answers = Array(supplement, "answers").Select(Item).ToList();
            var forms = Array(supplement, "forms").ToList();
            foreach (var form in forms.Where(f => !Array(manifest, "units").Any(u => u.ValueKind == JsonValueKind.String && u.GetString() == Text(f, "unit"))))
            {
                _report.Wrong(Manifest, $"It replaces form {Text(form, "form")} of unit {Text(form, "unit")}, which is none of its units.");
            }

            _report.Remarks.Add($"It is supplement {number} to packet {packet} (manifest {hash}): it brings {Many(forms.Count, "form")} and answers {Many(answers.Count, "pending item")}.");
            if (of is not null)
            {
                _report.Check($"manifest.json: supplement {number} to packet {packet}, the one you gave", () => CheckAgainst(of, packet, hash, forms, answers));
            }
        });
        if (of is not null && !isSupplement)
        {
            _report.Wrong(Manifest, "It is not a supplement: it names no packet that it supplements.");
        }
    }

    private void CheckAgainst(PacketFiles of, string packet, string hash, List<JsonElement> forms, List<(string?, string?, string?)> answers)
    {
        if (!of.Found.TryGetValue(Manifest, out var file) || file.Sha256 != hash)
        {
            _report.Wrong(Manifest, $"The packet you gave is not the packet it supplements: it names a manifest with SHA-256 {hash}, that of {packet}.");
            return;
        }

        using var parsed = Parse(file.Bytes(8 << 20));
        var pending = Array(parsed.RootElement, "pending").Select(Item).ToHashSet();
        foreach (var (unit, requirement, subject) in answers.Where(a => !pending.Contains(a)))
        {
            _report.Wrong(Manifest, $"It answers {requirement} of unit {unit} ({subject}), which was not pending in {packet}.");
        }

        foreach (var form in forms)
        {
            if (!form.TryGetProperty("replaces", out var replaces) || Text(replaces, "document") != packet)
            {
                continue;
            }

            var stands = Object(parsed.RootElement, "pages").Where(u => u.Name == Text(form, "unit")).SelectMany(u => u.Value.EnumerateObject())
                .Where(f => f.Name == Text(form, "form")).Select(f => f.Value).FirstOrDefault();
            if (Number(stands, "from") != Number(replaces, "from") || Number(stands, "through") != Number(replaces, "through"))
            {
                _report.Wrong(Manifest, $"It replaces form {Text(form, "form")} of unit {Text(form, "unit")} on pages where {packet} does not have it.");
            }
        }
    }

    private static (string? Unit, string? Requirement, string? Subject) Item(JsonElement item) => (Text(item, "unit"), Text(item, "requirement"), Text(item, "subject"));

    private static string Many(int count, string one) => string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{count} {one}{(count == 1 ? "" : "s")}");
}
