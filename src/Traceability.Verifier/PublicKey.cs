using System.Security.Cryptography;
using System.Text;
using Org.BouncyCastle.Crypto.Parameters;
using Org.BouncyCastle.Crypto.Signers;

namespace Traceability.Verifier;

/// <summary>An Ed25519 public key as the caller got it.</summary>
/// <param name="Bytes">32 bytes.</param>
/// <param name="Name">The name in the one-line form; null for a PEM file.</param>
internal sealed record PublicKey(byte[] Bytes, string? Name)
{
    /// <summary>A PEM file (SubjectPublicKeyInfo, RFC 8410), a file with the one-line form, or that line itself.</summary>
    /// <exception cref="FormatException">It is none of these.</exception>
    internal static PublicKey Read(string given)
    {
        var text = File.Exists(given) ? File.ReadAllText(given).Trim() : given.Trim();
        if (text.StartsWith("-----BEGIN PUBLIC KEY-----", StringComparison.Ordinal))
        {
            var der = Convert.FromBase64String(string.Concat(text.Split('\n').Where(l => !l.StartsWith('-'))));
            return der.Length == 44 && Convert.ToHexStringLower(der[..12]) == "302a300506032b6570032100"
                ? new PublicKey(der[12..], null)
                : throw new FormatException($"{given} is not an Ed25519 public key.");
        }

        // The base64 part may itself hold a plus sign.
        var parts = text.Split('+', 3);
        if (parts.Length == 3 && parts[0].Length > 0 && parts[2].Length == 44)
        {
            var bytes = Convert.FromBase64String(parts[2]);
            var key = new PublicKey(bytes[1..], parts[0]);
            if (bytes.Length == 33 && bytes[0] == 1 && Convert.ToHexStringLower(key.Hash(parts[0])) == parts[1])
            {
                return key;
            }
        }

        throw new FormatException($"{given} is neither a PEM file of an Ed25519 public key nor a key line (name+hash+base64).");
    }

    /// <summary>The four bytes by which a note's signature line names its key.</summary>
    internal byte[] Hash(string name) => SHA256.HashData([.. Encoding.UTF8.GetBytes(name), 0x0A, 0x01, .. Bytes])[..4];

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
