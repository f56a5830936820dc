using System.Security.Cryptography;
using System.Text;

namespace Traceability.Core.Records;

/// <summary>
/// The store's id of a fact, derived from the sender's (source, id) pair, which CloudEvents 1.0 makes unique.
/// Derivation: UUID version 5 (RFC 9562, section 5.5) over UTF-8 of source + "\n" + id. May not change.
/// </summary>
public static class RecordId
{
    private static readonly Guid Namespace = new("6f0f4f4e-1c8e-5a57-9a0b-3f6b1f0a7c11");

    public static Guid Of(string source, string id) => Version5(source + "\n" + id);

    /// <summary>The id of a second, different content that arrived under an id already recorded.</summary>
    public static Guid OfConflict(string source, string id, string contentHash) => Version5(source + "\n" + id + "\n" + contentHash);

    private static Guid Version5(string name)
    {
        var bytes = Encoding.UTF8.GetBytes(name);
        var input = new byte[16 + bytes.Length];
        Namespace.TryWriteBytes(input, bigEndian: true, out _);
        bytes.CopyTo(input, 16);
#pragma warning disable CA5350 // RFC 9562 names SHA-1 for version 5; it is an identifier here, the proof rests on SHA-256.
        Span<byte> hash = stackalloc byte[20];
        SHA1.HashData(input, hash);
#pragma warning restore CA5350
        hash[6] = (byte)((hash[6] & 0x0F) | 0x50);
        hash[8] = (byte)((hash[8] & 0x3F) | 0x80);
        return new Guid(hash[..16], bigEndian: true);
    }
}
