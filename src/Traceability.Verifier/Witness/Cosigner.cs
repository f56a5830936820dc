using System.Buffers.Binary;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Org.BouncyCastle.Crypto.Parameters;
using Org.BouncyCastle.Crypto.Signers;

namespace Traceability.Verifier.Witness;

/// <summary>
/// The public half of a witness's key. A cosignature (C2SP tlog-cosignature 1.0, published) says: at this time this is the largest
/// consistent state of the log that the witness has seen.
/// </summary>
/// <param name="Name">Name of the witness, as on its signature lines.</param>
/// <param name="Bytes">32 bytes of Ed25519 public key.</param>
internal sealed record Cosigner(string Name, byte[] Bytes)
{
    /// <summary>The kind byte of an Ed25519 cosignature.</summary>
    internal const byte Kind = 4;

    /// <summary>Length of a cosignature: 8 bytes of time and 64 of Ed25519.</summary>
    internal const int Length = 72;

    /// <summary>The four bytes by which a signature line names the key.</summary>
    internal byte[] KeyId => SHA256.HashData([.. Encoding.UTF8.GetBytes(Name), 0x0A, Kind, .. Bytes])[..4];

    /// <summary>The key as one line, <c>name+hash+base64</c>.</summary>
    internal string Line => $"{Name}+{Convert.ToHexStringLower(KeyId)}+{Convert.ToBase64String([Kind, .. Bytes])}";

    /// <summary>Reads the one-line form, or a file that holds it.</summary>
    /// <exception cref="FormatException">It is not the key of a witness.</exception>
    internal static Cosigner Read(string given)
    {
        var text = File.Exists(given) ? File.ReadAllText(given).Trim() : given.Trim();
        var parts = text.Split('+', 3);
        var bytes = new byte[64];
        if (parts.Length == 3 && IsName(parts[0]) && Convert.TryFromBase64String(parts[2], bytes, out var length) && length == 33 && bytes[0] == Kind)
        {
            var key = new Cosigner(parts[0], bytes[1..33]);
            if (Convert.ToHexStringLower(key.KeyId) == parts[1])
            {
                return key;
            }
        }

        throw new FormatException($"{given} is not the key line of a witness (name+hash+base64, as 'traceability-verify witness show' prints it).");
    }

    internal static bool IsName(string name) => name.Length is > 0 and <= 255 && !name.Any(c => char.IsWhiteSpace(c) || char.IsControl(c) || c == '+');

    /// <summary>What is signed: a header, the time, and the text of the checkpoint.</summary>
    internal static byte[] Message(string body, long time) => Encoding.UTF8.GetBytes(string.Create(CultureInfo.InvariantCulture, $"cosignature/v1\ntime {time}\n{body}"));

    /// <summary>When this witness cosigned the note, in seconds since 1970; null where it did not.</summary>
    internal long? SignedAt(Note note)
    {
        foreach (var (name, id, signature) in note.Signatures)
        {
            if (name != Name || !id.AsSpan().SequenceEqual(KeyId) || signature.Length != Length)
            {
                continue;
            }

            var time = BinaryPrimitives.ReadUInt64BigEndian(signature);
            // Zero would be a cosignature that says nothing of time: not one of a checkpoint.
            if (time is 0 or > long.MaxValue)
            {
                continue;
            }

            var message = Message(note.Body, (long)time);
            var verifier = new Ed25519Signer();
            verifier.Init(false, new Ed25519PublicKeyParameters(Bytes));
            verifier.BlockUpdate(message, 0, message.Length);
            if (verifier.VerifySignature(signature[8..]))
            {
                return (long)time;
            }
        }

        return null;
    }
}

/// <summary>A witness's private key.</summary>
internal sealed class CosignerKey
{
    private static readonly byte[] s_prefix = Convert.FromHexString("302e020100300506032b657004220420");

    private readonly Ed25519PrivateKeyParameters _key;

    private CosignerKey(Ed25519PrivateKeyParameters key) => _key = key;

    internal byte[] PublicKey => _key.GeneratePublicKey().GetEncoded();

    internal static CosignerKey Create() => new(new Ed25519PrivateKeyParameters(RandomNumberGenerator.GetBytes(32)));

    /// <exception cref="InvalidDataException">Not an unencrypted PKCS#8 Ed25519 key.</exception>
    internal static CosignerKey Read(string path)
    {
        var pem = File.ReadAllText(path);
        return PemEncoding.TryFind(pem, out var found) && pem[found.Label] == "PRIVATE KEY" && Convert.FromBase64String(pem[found.Base64Data]) is { Length: 48 } der && der.AsSpan().StartsWith(s_prefix)
            ? new CosignerKey(new Ed25519PrivateKeyParameters(der.AsSpan(s_prefix.Length)))
            : throw new InvalidDataException($"{path} is not an unencrypted PKCS#8 Ed25519 private key in PEM.");
    }

    internal string Pem() => PemEncoding.WriteString("PRIVATE KEY", [.. s_prefix, .. _key.GetEncoded()]) + "\n";

    /// <summary>The signature line of a cosignature.</summary>
    /// <param name="name">Name of the witness.</param>
    /// <param name="body">Text of the checkpoint.</param>
    /// <param name="time">Seconds since 1970.</param>
    internal string Cosign(string name, string body, long time)
    {
        var message = Cosigner.Message(body, time);
        var signer = new Ed25519Signer();
        signer.Init(true, _key);
        signer.BlockUpdate(message, 0, message.Length);
        var stamped = new byte[Cosigner.Length];
        BinaryPrimitives.WriteUInt64BigEndian(stamped, (ulong)time);
        signer.GenerateSignature().CopyTo(stamped, 8);
        return $"— {name} {Convert.ToBase64String([.. new Cosigner(name, PublicKey).KeyId, .. stamped])}\n";
    }
}
