using System.Security.Cryptography;
using System.Text;
using Org.BouncyCastle.Crypto.Parameters;
using Org.BouncyCastle.Crypto.Signers;
using Org.BouncyCastle.Security;
using Traceability.Service.Operations;

namespace Traceability.Service.Log;

/// <summary>
/// The log's Ed25519 key (RFC 8032), kept as a PKCS#8 file (RFC 8410) outside the database. Its public half is
/// given to those who check packets, as a PEM file that openssl reads or as one line of text.
/// </summary>
public sealed class LogKey
{
    // RFC 8410 section 7 and 4: everything in front of the 32 bytes of the key is fixed.
    private static readonly byte[] s_privatePrefix = Convert.FromHexString("302e020100300506032b657004220420");
    private static readonly byte[] s_publicPrefix = Convert.FromHexString("302a300506032b6570032100");

    private readonly Ed25519PrivateKeyParameters _key;
    private readonly Ed25519PublicKeyParameters _public;

    private LogKey(Ed25519PrivateKeyParameters key)
    {
        _key = key;
        _public = key.GeneratePublicKey();
    }

    /// <summary>The 32 bytes of the public key.</summary>
    public byte[] PublicKey => _public.GetEncoded();

    /// <summary>A new key from the system's random source.</summary>
    public static LogKey Create() => new(new Ed25519PrivateKeyParameters(new SecureRandom()));

    /// <summary>The key of a 32-byte seed.</summary>
    public static LogKey FromSeed(ReadOnlySpan<byte> seed) => new(new Ed25519PrivateKeyParameters(seed));

    /// <summary>Reads the private key file.</summary>
    /// <exception cref="InvalidDataException">Not an unencrypted PKCS#8 Ed25519 key.</exception>
    public static LogKey Load(string path)
    {
        var der = Der(File.ReadAllText(path), "PRIVATE KEY");
        if (der is null || der.Length != s_privatePrefix.Length + 32 || !der.AsSpan().StartsWith(s_privatePrefix))
        {
            throw new InvalidDataException($"{path} is not an unencrypted PKCS#8 Ed25519 private key in PEM.");
        }

        return FromSeed(der.AsSpan(s_privatePrefix.Length));
    }

    /// <summary>The public half lies beside the private key, to be handed to whoever checks packets.</summary>
    public static string PublicFile(string path) => Path.ChangeExtension(path, ".pub.pem");

    /// <summary>The public half as one line, with the name of its log; written once that is signed.</summary>
    public static string LineFile(string path) => Path.ChangeExtension(path, ".pub.txt");

    /// <summary>Reads the private key file; where there is none, makes a key and writes it, readable by its owner only.</summary>
    public static LogKey LoadOrCreate(string path)
    {
        if (File.Exists(path))
        {
            var known = Load(path);
            if (!File.Exists(PublicFile(path)))
            {
                File.WriteAllText(PublicFile(path), known.PublicPem());
            }

            return known;
        }

        var key = Create();
        // Whole or not at all: half a key after a crash would be a signer that never starts again. The key first: the public
        // half of one that was lost would be handed out for nothing.
        DurableFile.Write(path, file => file.Write(Encoding.ASCII.GetBytes(key.PrivatePem())), UnixFileMode.UserRead | UnixFileMode.UserWrite);
        File.WriteAllText(PublicFile(path), key.PublicPem());
        return key;
    }

    /// <summary>PKCS#8 PEM of the private key.</summary>
    public string PrivatePem() => PemEncoding.WriteString("PRIVATE KEY", [.. s_privatePrefix, .. _key.GetEncoded()]) + "\n";

    /// <summary>SubjectPublicKeyInfo PEM of the public key: what <c>openssl pkeyutl -pubin</c> takes.</summary>
    public string PublicPem() => PemEncoding.WriteString("PUBLIC KEY", [.. s_publicPrefix, .. PublicKey]) + "\n";

    /// <summary>The public key as one line, <c>name+hash+key</c> (C2SP signed-note verifier key).</summary>
    public string VerifierKey(string name) =>
        $"{SignedNote.CheckName(name)}+{Convert.ToHexStringLower(SignedNote.KeyHash(name, PublicKey))}+"
        + Convert.ToBase64String([SignedNote.Ed25519Kind, .. PublicKey]);

    /// <summary>64 bytes of Ed25519 signature.</summary>
    public byte[] Sign(ReadOnlySpan<byte> message)
    {
        var signer = new Ed25519Signer();
        signer.Init(forSigning: true, _key);
        signer.BlockUpdate(message);
        return signer.GenerateSignature();
    }

    /// <summary>Whether a signature of <paramref name="publicKey"/> over the message holds.</summary>
    public static bool Verify(ReadOnlySpan<byte> publicKey, ReadOnlySpan<byte> message, byte[] signature)
    {
        var verifier = new Ed25519Signer();
        verifier.Init(forSigning: false, new Ed25519PublicKeyParameters(publicKey));
        verifier.BlockUpdate(message);
        return verifier.VerifySignature(signature);
    }

    private static byte[]? Der(string pem, string label)
    {
        if (!PemEncoding.TryFind(pem, out var fields) || !pem.AsSpan()[fields.Label].SequenceEqual(label))
        {
            return null;
        }

        return Convert.FromBase64String(pem[fields.Base64Data]);
    }
}
