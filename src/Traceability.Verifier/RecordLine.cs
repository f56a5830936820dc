using System.Runtime.InteropServices;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;

namespace Traceability.Verifier;

/// <summary>One line of records.jsonl.</summary>
/// <param name="Number">Line, from 1.</param>
/// <param name="Leaf">Leaf hash of its bytes.</param>
/// <param name="Id">The record's id; null if the line is no record.</param>
/// <param name="What">Type and subject in words, as far as they can be read.</param>
/// <param name="Faults">What is wrong with the line by itself.</param>
/// <param name="Continues">For the first leaf of a log that continues another: the other's last checkpoint.</param>
/// <param name="Signature">What the device that sent it signed; null where it came without.</param>
/// <param name="Enrolled">The device and the key that it says was enrolled, where it is a record of that.</param>
/// <param name="Device">The device that sent it.</param>
/// <param name="RecordedAt">When it was recorded, as written; texts of this form sort as the moments do.</param>
internal sealed partial record RecordLine(
    int Number, byte[] Leaf, string? Id, string What, IReadOnlyList<string> Faults, string? Continues = null, string? RecordedAt = null, string? Device = null, DeviceSignature? Signature = null, EnrolledKey? Enrolled = null)
{
    /// <summary>Bytes a line may have. Our own choice, above the 8 MiB that the service takes in one request.</summary>
    internal const int Longest = 9 << 20;

    private static readonly byte[] s_namespace = Convert.FromHexString("6f0f4f4e1c8e5a579a0b3f6b1f0a7c11");

    internal string Name => Id is null ? $"line {Number}" : $"record {Id} ({What})";

    internal static RecordLine Read(int number, byte[] bytes)
    {
        try
        {
            using var parsed = Texts.Parse(bytes);
            return Read(number, bytes, parsed.RootElement);
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException)
        {
            // The second where a text holds half a surrogate pair.
            return new RecordLine(number, Tree.Leaf(bytes), null, "", [$"The line is not a JSON text: {e.Message}"]);
        }
    }

    private static RecordLine Read(int number, byte[] bytes, JsonElement root)
    {
        var leaf = Tree.Leaf(bytes);
        var faults = new List<string>();
        if (!Canonical.Is(bytes, root))
        {
            faults.Add("The line is not in the form in which records are hashed (RFC 8785).");
        }

        if (number == 1 && root.ValueKind == JsonValueKind.Object && root.TryGetProperty("continues", out var continues))
        {
            return new RecordLine(number, leaf, null, "start of a new log", faults, $"{Text(continues, "origin")} at {Text(continues, "size")} records");
        }

        var fact = root.ValueKind == JsonValueKind.Object && root.TryGetProperty("fact", out var f) ? f : default;
        var (id, source, eventId) = (Text(root, "id"), Text(fact, "source"), Text(fact, "id"));
        var what = $"{Text(fact, "type") ?? "no type"} of {Text(fact, "subject") ?? "no subject"}";
        if (id is null || source is null || eventId is null)
        {
            faults.Add("The line is not a record: its id, or its event's source and id, are missing.");
            return new RecordLine(number, leaf, id, what, faults);
        }

        var content = Convert.ToHexStringLower(SHA256.HashData(JsonMarshal.GetRawUtf8Value(fact)));
        var derived = Version5($"{source}\n{eventId}");
        if (id != derived && id != Version5($"{source}\n{eventId}\n{content}"))
        {
            faults.Add($"The record's id is not the one of its event: source {source} and id {eventId} give {derived}.");
        }

        var recordedAt = Texts.Text(root, "recordedAt");
        if (recordedAt is null || !Moment().IsMatch(recordedAt))
        {
            faults.Add("It does not say when it was recorded, as YYYY-MM-DDThh:mm:ss.ffffffZ.");
            recordedAt = null;
        }

        DeviceSignature? signature = null;
        if (root.TryGetProperty("signature", out var signed) && (signature = DeviceSignature.Read(signed, content)) is null)
        {
            faults.Add("What stands as its device's signature is none: a key's SHA-256 and 64 bytes in base64.");
        }

        return new RecordLine(number, leaf, id, what, faults, null, recordedAt, Texts.Text(root, "device"), signature, EnrolledKey.Read(root, fact));
    }

    [GeneratedRegex(@"\A[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{6}Z\z")]
    private static partial Regex Moment();

    /// <summary>Lines without their line feeds.</summary>
    /// <exception cref="PacketFormException">A line is longer than any record.</exception>
    internal static IEnumerable<byte[]> Lines(Stream stream)
    {
        var line = new MemoryStream();
        var buffer = new byte[65_536];
        int read;
        while ((read = stream.Read(buffer)) > 0)
        {
            var rest = buffer.AsMemory(0, read);
            int feed;
            while ((feed = rest.Span.IndexOf((byte)'\n')) >= 0)
            {
                line.Write(rest.Span[..feed]);
                yield return line.ToArray();
                line.SetLength(0);
                rest = rest[(feed + 1)..];
            }

            line.Write(rest.Span);
            if (line.Length > Longest)
            {
                throw new PacketFormException($"A line has more than {Longest} bytes; no record is so long.");
            }
        }

        if (line.Length > 0)
        {
            yield return line.ToArray();
        }
    }

    private static string? Text(JsonElement of, string name) =>
        of.ValueKind == JsonValueKind.Object && of.TryGetProperty(name, out var value)
            ? value.ValueKind switch
            {
                JsonValueKind.String => value.GetString(),
                JsonValueKind.Number => value.GetRawText(),
                _ => null,
            }
            : null;

    private static string Version5(string name)
    {
#pragma warning disable CA5350 // RFC 9562 names SHA-1 for version 5; it is an identifier here, the proof rests on SHA-256.
        var hash = SHA1.HashData([.. s_namespace, .. Encoding.UTF8.GetBytes(name)]);
#pragma warning restore CA5350
        hash[6] = (byte)(0x50 | (hash[6] & 0x0F));
        hash[8] = (byte)(0x80 | (hash[8] & 0x3F));
        return new Guid(hash.AsSpan(0, 16), bigEndian: true).ToString("D");
    }
}
