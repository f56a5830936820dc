using System.Security.Cryptography;
using System.Text;
using Traceability.Service.Log;

namespace Traceability.Service.Packets;

/// <summary>
/// The signature of a manifest: a signed note (C2SP signed-note) of a name of its own and a line that says what it is, over
/// the manifest's SHA-256. No checkpoint can be read from it and it can be read from no checkpoint, so one key serves both.
/// </summary>
internal static class ManifestNote
{
    /// <summary>The second line, which no checkpoint has: there a number stands.</summary>
    private const string What = "record packet manifest";

    private static string Name(string origin) => origin + "/manifest";

    private static string Text(string origin, byte[] manifest) => $"{Name(origin)}\n{What}\n{Convert.ToBase64String(SHA256.HashData(manifest))}\n";

    public static string Sign(string origin, byte[] manifest, LogKey key) => SignedNote.Sign(Text(origin, manifest), Name(origin), key);

    /// <summary>Whether the key signed this manifest as one of that log.</summary>
    public static bool IsSigned(byte[] note, string origin, byte[] manifest, ReadOnlySpan<byte> publicKey) =>
        SignedNote.Open(Encoding.UTF8.GetString(note), Name(origin), publicKey) == Text(origin, manifest);
}
