using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace Traceability.Service.Log;

/// <summary>
/// Text with signature lines under it, as C2SP signed-note has it (published): the text ends in a line feed; then a
/// blank line; then <c>— name base64(key hash of 4 bytes || signature)</c>.
/// </summary>
public static class SignedNote
{
    /// <summary>The signature kind byte of plain Ed25519.</summary>
    public const byte Ed25519Kind = 1;

    private const string LinePrefix = "— ";

    /// <summary>First four bytes of SHA-256(name || 0x0A || kind || public key).</summary>
    public static byte[] KeyHash(string name, ReadOnlySpan<byte> publicKey) =>
        SHA256.HashData([.. Encoding.UTF8.GetBytes(name), (byte)'\n', Ed25519Kind, .. publicKey])[..4];

    /// <summary>Signs a text.</summary>
    /// <param name="text">Must end in a line feed and hold no blank line at its end.</param>
    /// <param name="name">The signer's name: not empty, without white space or plus sign.</param>
    /// <param name="key">The signer's key.</param>
    /// <exception cref="ArgumentException">The text or name cannot be put in a note.</exception>
    public static string Sign(string text, string name, LogKey key)
    {
        if (!text.EndsWith('\n') || text.Any(c => c < ' ' && c != '\n'))
        {
            throw new ArgumentException("The text of a note ends in a line feed and holds no other control character.", nameof(text));
        }

        CheckName(name);
        var signature = key.Sign(Encoding.UTF8.GetBytes(text));
        return $"{text}\n{LinePrefix}{name} {Convert.ToBase64String([.. KeyHash(name, key.PublicKey), .. signature])}\n";
    }

    /// <summary>The text of a note if the named key signed it, else null.</summary>
    public static string? Open(string note, string name, ReadOnlySpan<byte> publicKey)
    {
        var split = note.LastIndexOf("\n\n", StringComparison.Ordinal);
        if (split < 0 || !note.EndsWith('\n'))
        {
            return null;
        }

        var text = note[..(split + 1)];
        foreach (var line in note[(split + 2)..].Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            var parts = line.StartsWith(LinePrefix, StringComparison.Ordinal) ? line[LinePrefix.Length..].Split(' ') : [];
            var bytes = new byte[4 + 64];
            if (parts.Length == 2 && parts[0] == name
                && Convert.TryFromBase64String(parts[1], bytes, out var length) && length == bytes.Length
                && bytes.AsSpan(0, 4).SequenceEqual(KeyHash(name, publicKey))
                && LogKey.Verify(publicKey, Encoding.UTF8.GetBytes(text), bytes[4..]))
            {
                return text;
            }
        }

        return null;
    }

    internal static string CheckName(string name)
    {
        if (name.Length == 0 || name.Any(c => char.IsWhiteSpace(c) || char.IsControl(c) || c == '+'))
        {
            throw new ArgumentException($"'{name}' cannot name a log: it must not be empty nor hold white space or a plus sign.", nameof(name));
        }

        return name;
    }
}

/// <summary>
/// The state of the log at one size, in the form of C2SP tlog-checkpoint (published): origin, size, base64 root,
/// a line each.
/// </summary>
/// <param name="Origin">Which log; also the name of its key.</param>
/// <param name="Size">Leaves.</param>
/// <param name="Root">RFC 6962 root, 32 bytes.</param>
public sealed record Checkpoint(string Origin, long Size, byte[] Root)
{
    /// <summary>The text that is signed.</summary>
    public string Text() => string.Create(
        CultureInfo.InvariantCulture, $"{Origin}\n{Size}\n{Convert.ToBase64String(Root)}\n");

    /// <summary>The signed note.</summary>
    public string Sign(LogKey key) => SignedNote.Sign(Text(), Origin, key);

    /// <summary>The checkpoint of a note that the key signed under the note's own origin, else null.</summary>
    public static Checkpoint? Open(string note, ReadOnlySpan<byte> publicKey)
    {
        var origin = note.Split('\n')[0];
        var lines = SignedNote.Open(note, origin, publicKey)?.Split('\n');
        return lines is { Length: >= 4 }
            && long.TryParse(lines[1], NumberStyles.None, CultureInfo.InvariantCulture, out var size)
            && size.ToString(CultureInfo.InvariantCulture) == lines[1]
            && Convert.FromBase64String(lines[2]) is { Length: Merkle.HashSize } root
                ? new Checkpoint(origin, size, root)
                : null;
    }
}
