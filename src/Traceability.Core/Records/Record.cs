using System.Buffers;
using System.Globalization;
using System.Runtime.InteropServices;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;

namespace Traceability.Core.Records;

/// <summary>
/// One event as accepted: content, who, device, when it happened, was received and was recorded, and its exact bytes.
/// Immutable for ever. The bytes are the truth; every member is read from them.
/// </summary>
public sealed class Record
{
    private IReadOnlyList<Link>? _links;

    private Record(ReadOnlyMemory<byte> bytes, long position, CloudEvent sent, JsonElement envelope)
    {
        Bytes = bytes;
        Position = position;
        Sent = sent;
        Id = envelope.GetProperty("id").GetGuid();
        Device = envelope.GetProperty("device").GetString() ?? throw new FormatException("a record names its device");
        Assurance = envelope.GetProperty("assurance").GetString() ?? throw new FormatException("a record states its assurance");
        ReceivedAt = envelope.GetProperty("receivedAt").GetDateTimeOffset();
        RecordedAt = envelope.GetProperty("recordedAt").GetDateTimeOffset();
        if (envelope.TryGetProperty("signature", out var signature))
            Signature = new(signature.GetProperty("key").GetString() ?? throw new FormatException("a signature names its key"), signature.GetProperty("value").GetString() ?? throw new FormatException("a signature has a value"));
        (Fact, Unreadable) = Open(sent);
    }

    public ReadOnlyMemory<byte> Bytes { get; }

    /// <summary>Place in the store's total order. 0 for a draft that is not recorded yet.</summary>
    public long Position { get; }

    public CloudEvent Sent { get; }

    public Guid Id { get; }

    /// <summary>The device whose credentials delivered it.</summary>
    public string Device { get; }

    /// <summary>What stands behind the delivery: "device-key", "intake", "cleared by ...".</summary>
    public string Assurance { get; }

    public DateTimeOffset ReceivedAt { get; }

    public DateTimeOffset RecordedAt { get; }

    /// <summary>What the device signed of the fact; null where it has no key of its own, or sent the fact without.</summary>
    public DeviceSignature? Signature { get; }

    /// <summary>The content, or null when this version of the rules cannot read it; then <see cref="Unreadable"/> says why.</summary>
    public IFact? Fact { get; }

    public string? Unreadable { get; }

    public string Type => Sent.Type;

    public string? Person => Sent.Person;

    /// <summary>When it happened by the station's clock, corrected by the clock offset the station measured.</summary>
    public Moment OccurredAt => Moment.Of(Sent);

    /// <summary>
    /// Set when another content had already been recorded under this (source, id): this record then stands under an id of its own.
    /// </summary>
    public bool IsConflict => Id != Sent.RecordId;

    /// <summary>Everything this record ties together. Pure.</summary>
    public IReadOnlyList<Link> Links() => _links ??= Dossiers.Links.OfRecord(Fact, Sent, Id);

    /// <exception cref="JsonException">The bytes are not a record.</exception>
    public static Record Read(ReadOnlyMemory<byte> bytes, long position)
    {
        using var document = JsonDocument.Parse(bytes);
        try
        {
            // The fact's canonical bytes stand verbatim inside the envelope; cut them out instead of writing them again.
            var fact = document.RootElement.GetProperty("fact");
            var sent = CloudEvent.ReadCanonical(JsonMarshal.GetRawUtf8Value(fact).ToArray());
            return new Record(bytes, position, sent, document.RootElement);
        }
        catch (Exception e) when (e is KeyNotFoundException or InvalidOperationException or FormatException or FactShapeException)
        {
            throw new JsonException("the bytes are not a record: " + e.Message, e);
        }
    }

    /// <summary>
    /// Writes the exact bytes of a record: RFC 8785 form of an object with the members assurance, device, fact, id,
    /// receivedAt, recordedAt and, where the device signed the fact, signature. May not change.
    /// </summary>
    public static byte[] Write(CloudEvent sent, Guid id, string device, string assurance, DateTimeOffset receivedAt, DateTimeOffset recordedAt, DeviceSignature? signature = null)
    {
        var buffer = new ArrayBufferWriter<byte>(sent.Canonical.Length + 320);
        Put(buffer, "{\"assurance\":"u8);
        Put(buffer, Canonical(assurance));
        Put(buffer, ",\"device\":"u8);
        Put(buffer, Canonical(device));
        Put(buffer, ",\"fact\":"u8);
        Put(buffer, sent.Canonical.Span);
        Put(buffer, Encoding.UTF8.GetBytes($",\"id\":\"{id:D}\",\"receivedAt\":\"{Utc(receivedAt)}\",\"recordedAt\":\"{Utc(recordedAt)}\""));
        if (signature is not null)
        {
            Put(buffer, ",\"signature\":{\"key\":"u8);
            Put(buffer, Canonical(signature.Key));
            Put(buffer, ",\"value\":"u8);
            Put(buffer, Canonical(signature.Value));
            Put(buffer, "}"u8);
        }

        Put(buffer, "}"u8);
        return buffer.WrittenSpan.ToArray();
    }

    /// <summary>RFC 6962 leaf hash of a record: SHA-256 of 0x00 and its exact bytes.</summary>
    public static byte[] LeafHash(ReadOnlySpan<byte> recordBytes)
    {
        var input = new byte[recordBytes.Length + 1];
        recordBytes.CopyTo(input.AsSpan(1));
        return SHA256.HashData(input);
    }

    private static (IFact?, string?) Open(CloudEvent sent)
    {
        if (!FactCatalog.All.TryGetValue(sent.Type, out var type)) return (null, $"type '{sent.Type}' is not known to this version");
        try
        {
            return (FactCatalog.Read(type, sent.Data), null);
        }
        catch (FactShapeException e)
        {
            return (null, e.Message);
        }
    }

    private static string Utc(DateTimeOffset time) => time.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.ffffff'Z'", CultureInfo.InvariantCulture);

    private static byte[] Canonical(string text) => CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(text));

    private static void Put(ArrayBufferWriter<byte> buffer, ReadOnlySpan<byte> bytes) => buffer.Write(bytes);
}
