using System.Security.Cryptography;
using System.Text;
using Org.BouncyCastle.Crypto.Parameters;
using Org.BouncyCastle.Crypto.Signers;
using Org.BouncyCastle.Math.EC.Rfc8032;

namespace Traceability.Verifier;

/// <summary>An Ed25519 public key as the caller got it.</summary>
/// <param name="Bytes">32 bytes.</param>
/// <param name="Name">The log it is of: the name in the one-line form, or as the caller says; null for a PEM file alone.</param>
internal sealed record PublicKey(byte[] Bytes, string? Name)
{
    /// <summary>A PEM file (SubjectPublicKeyInfo, RFC 8410), a file with the one-line form, or that line itself.</summary>
    /// <param name="origin">The log it is the key of, where the caller says; the one-line form says so itself.</param>
    /// <exception cref="FormatException">It is none of these, or of another log.</exception>
    internal static PublicKey Read(string given, string? origin = null)
    {
        const int most = 16_384;
        var text = given.Trim();
        if (File.Exists(given))
        {
            if (new FileInfo(given).Length > most)
            {
                throw new FormatException($"{given} is too large for a public key.");
            }

            text = File.ReadAllText(given).Trim();
        }

        if (text.Contains("PRIVATE KEY", StringComparison.Ordinal))
        {
            throw new FormatException($"{given} is a private key. It is secret and must stay with its owner; ask for the public one.");
        }

        if (text.StartsWith("-----BEGIN PUBLIC KEY-----", StringComparison.Ordinal))
        {
            var der = SignedText.Base64(string.Concat(text.Split('\n').Select(l => l.Trim()).Where(l => !l.StartsWith('-'))));
            return der is { Length: 44 } && Convert.ToHexStringLower(der[..12]) == "302a300506032b6570032100"
                ? Checked(der[12..], origin, given)
                : throw new FormatException($"{given} is not an Ed25519 public key.");
        }

        if (Line(text) is { } key)
        {
            return origin is not null && origin != key.Name
                ? throw new FormatException($"The key line is of {key.Name}, and --origin says {origin}.")
                : Checked(key.Bytes, key.Name, given);
        }

        throw new FormatException(File.Exists(given) || given.Contains('+')
            ? $"{given} is neither a PEM file of an Ed25519 public key nor a key line (name+hash+base64)."
            : $"{given} is not there, and is no key line (name+hash+base64) either.");
    }

    /// <summary>The key of a line that stands in somebody else's text; null where it is none. Whatever it says, no file is opened for it.</summary>
    internal static PublicKey? OfLine(string line) => Line(line) is { } key && Ed25519.ValidatePublicKeyFull(key.Bytes, 0) ? key : null;

    private static PublicKey? Line(string text)
    {
        // The base64 part may itself hold a plus sign.
        var parts = text.Split('+', 3);
        return parts.Length == 3 && parts[0].Length > 0 && parts[2].Length == 44 && SignedText.Base64(parts[2]) is { Length: 33 } bytes && bytes[0] == 1
            && new PublicKey(bytes[1..], parts[0]) is var key && Convert.ToHexStringLower(key.Hash(parts[0])) == parts[1] ? key : null;
    }

    private static PublicKey Checked(byte[] bytes, string? origin, string given) =>
        // A point that is none, or one of the few under which anything seems signed.
        Ed25519.ValidatePublicKeyFull(bytes, 0)
            ? new PublicKey(bytes, origin)
            : throw new FormatException($"{given} is not an Ed25519 public key: its bytes are no such point.");

    /// <summary>The four bytes by which a note's signature line names its key.</summary>
    internal byte[] Hash(string name) => SHA256.HashData([.. Encoding.UTF8.GetBytes(name), 0x0A, 0x01, .. Bytes])[..4];

    /// <summary>Null where the key is of that log, or its log is not known.</summary>
    internal string? IsNotOf(string origin) =>
        Name is null || Name == origin ? null : $"The key you gave is of {Name}, this is of {origin}.";

    internal bool Signed(byte[] message, byte[] signature)
    {
        if (signature.Length != 64)
        {
            return false;
        }

        var verifier = new Ed25519Signer();
        verifier.Init(false, new Ed25519PublicKeyParameters(Bytes));
        verifier.BlockUpdate(message, 0, message.Length);
        return verifier.VerifySignature(signature);
    }
}
