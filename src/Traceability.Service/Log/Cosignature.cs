using System.Buffers.Binary;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace Traceability.Service.Log;

/// <summary>A witness's public key as this service was given it.</summary>
/// <param name="Name">Name of the witness, as on its signature lines.</param>
/// <param name="PublicKey">32 bytes of Ed25519.</param>
/// <param name="Url">Where the witness takes checkpoints (C2SP tlog-witness); null for one that fetches them, or works with files.</param>
public sealed record Witness(string Name, byte[] PublicKey, Uri? Url)
{
    /// <summary>The kind byte of an Ed25519 cosignature (C2SP tlog-cosignature 1.0, published).</summary>
    public const byte Kind = 4;

    private const int Length = 8 + 64;

    /// <summary>First four bytes of SHA-256(name || 0x0A || kind || public key).</summary>
    public byte[] KeyId => SHA256.HashData([.. Encoding.UTF8.GetBytes(Name), (byte)'\n', Kind, .. PublicKey])[..4];

    /// <summary>Reads the key line <c>name+hash+base64</c>.</summary>
    /// <exception cref="FormatException">It is not one.</exception>
    public static Witness Read(string line, string? url)
    {
        var parts = line.Trim().Split('+', 3);
        var bytes = new byte[64];
        if (parts.Length != 3 || !Convert.TryFromBase64String(parts[2], bytes, out var length) || length != 33 || bytes[0] != Kind)
        {
            throw new FormatException($"'{line}' is not the key line of a witness: name+hash+base64, as 'traceability-verify witness show' prints it.");
        }

        var witness = new Witness(SignedNote.CheckName(parts[0]), bytes[1..33], url is null ? null : new Uri(url.EndsWith('/') ? url : url + "/"));
        return Convert.ToHexStringLower(witness.KeyId) == parts[1] ? witness : throw new FormatException($"The hash in '{line}' is not that of its key: it was mistyped.");
    }

    /// <summary>The time that a signature line states, if it is this witness's cosignature of the text; else null.</summary>
    /// <param name="text">The text of a checkpoint, with its last line feed.</param>
    /// <param name="line">A signature line without its line feed.</param>
    public DateTimeOffset? CosignedAt(string text, string line)
    {
        var parts = line.Split(' ');
        var bytes = new byte[4 + Length];
        if (parts.Length != 3 || parts[0] != "—" || parts[1] != Name || !Convert.TryFromBase64String(parts[2], bytes, out var length) || length != bytes.Length
            || !bytes.AsSpan(0, 4).SequenceEqual(KeyId))
        {
            return null;
        }

        var time = BinaryPrimitives.ReadUInt64BigEndian(bytes.AsSpan(4));
        if (time is 0 or > 253_402_300_799)
        {
            return null;
        }

        var message = Encoding.UTF8.GetBytes(string.Create(CultureInfo.InvariantCulture, $"cosignature/v1\ntime {time}\n{text}"));
        return LogKey.Verify(PublicKey, message, bytes[12..]) ? DateTimeOffset.FromUnixTimeSeconds((long)time) : null;
    }
}

/// <summary>The witnesses of the settings: <c>Witnesses:0:Key</c>, <c>Witnesses:0:Url</c> and so on.</summary>
public sealed record Witnesses(IReadOnlyList<Witness> All)
{
    /// <exception cref="InvalidOperationException">A key or address in the settings is not one.</exception>
    public static Witnesses Of(IConfiguration settings)
    {
        var all = new List<Witness>();
        foreach (var one in settings.GetSection("Witnesses").GetChildren())
        {
            try
            {
                all.Add(Witness.Read(one["Key"] ?? throw new FormatException("Key is missing."), one["Url"]));
            }
            catch (Exception e) when (e is FormatException or ArgumentException)
            {
                throw new InvalidOperationException($"Witnesses:{one.Key}: {e.Message}", e);
            }
        }

        return new(all);
    }
}
