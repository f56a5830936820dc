using System.Globalization;
using System.Text;

namespace Traceability.Verifier;

/// <summary>A checkpoint in a signed note, parsed and not yet believed (C2SP signed-note, tlog-checkpoint).</summary>
/// <param name="Origin">First line.</param>
/// <param name="Size">Second line.</param>
/// <param name="Root">Third line, 32 bytes.</param>
/// <param name="Body">What is signed: these lines with their line feeds.</param>
/// <param name="Signatures">Name, key hash and signature of each signature line.</param>
internal sealed record Note(
    string Origin, long Size, byte[] Root, string Body, IReadOnlyList<(string Name, byte[] KeyHash, byte[] Signature)> Signatures)
{
    /// <summary>Null where the text is not a checkpoint.</summary>
    internal static Note? Read(string text)
    {
        var end = text.IndexOf("\n\n", StringComparison.Ordinal);
        if (end < 0 || !text.EndsWith('\n'))
        {
            return null;
        }

        var body = text[..(end + 1)];
        var lines = body.Split('\n');
        if (lines.Length < 4 || lines[0].Length == 0
            || !long.TryParse(lines[1], NumberStyles.None, CultureInfo.InvariantCulture, out var size)
            || lines[1] != size.ToString(CultureInfo.InvariantCulture)
            || Base64(lines[2]) is not { Length: 32 } root)
        {
            return null;
        }

        var signatures = new List<(string, byte[], byte[])>();
        foreach (var line in text[(end + 2)..].Split('\n').SkipLast(1))
        {
            var parts = line.Split(' ');
            if (parts.Length != 3 || parts[0] != "—" || Base64(parts[2]) is not { Length: > 4 } bytes)
            {
                return null;
            }

            signatures.Add((parts[1], bytes[..4], bytes[4..]));
        }

        return new Note(lines[0], size, root, body, signatures);
    }

    /// <summary>Null where the key signed the note under the note's origin, else why it does not count.</summary>
    internal string? NotSignedBecause(PublicKey key)
    {
        if (key.Name is not null && key.Name != Origin)
        {
            return $"The key you gave is of {key.Name}, the checkpoint of {Origin}.";
        }

        var wanted = key.Hash(Origin);
        var mine = Signatures.Where(s => s.Name == Origin && s.KeyHash.AsSpan().SequenceEqual(wanted)).ToArray();
        if (mine.Length == 0)
        {
            return "The key you gave did not sign it: it is signed by "
                + (Signatures.Count == 0
                    ? "nobody."
                    : string.Join(" and ", Signatures.Select(s => $"key {Convert.ToHexStringLower(s.KeyHash)} of {s.Name}"))
                        + $", yours is key {Convert.ToHexStringLower(wanted)}.");
        }

        return mine.Any(s => key.Signed(Encoding.UTF8.GetBytes(Body), s.Signature))
            ? null
            : "The signature does not fit the text: origin, size or root was changed after signing.";
    }

    private static byte[]? Base64(string text)
    {
        var bytes = new byte[text.Length];
        return Convert.TryFromBase64String(text, bytes, out var length) ? bytes[..length] : null;
    }
}
