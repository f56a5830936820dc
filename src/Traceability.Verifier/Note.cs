using System.Globalization;
using System.Text;

namespace Traceability.Verifier;

/// <summary>A text with the lines of those who signed it, parsed and not yet believed (C2SP signed-note).</summary>
/// <param name="Body">What is signed: lines, each with its line feed.</param>
/// <param name="Signatures">Name, key hash and signature of each signature line.</param>
internal sealed record SignedText(string Body, IReadOnlyList<(string Name, byte[] KeyHash, byte[] Signature)> Signatures)
{
    /// <summary>Bytes a note may have. Our own choice: a checkpoint with some dozen signatures has some thousand.</summary>
    internal const int Most = 65_536;

    private static readonly UTF8Encoding s_utf8 = new(false, throwOnInvalidBytes: true);

    /// <summary>Null where the bytes are no signed text.</summary>
    internal static SignedText? Read(byte[] bytes)
    {
        if (bytes.Length > Most)
        {
            return null;
        }

        string text;
        try
        {
            text = s_utf8.GetString(bytes);
        }
        catch (DecoderFallbackException)
        {
            return null;
        }

        var end = text.LastIndexOf("\n\n", StringComparison.Ordinal);
        if (end < 0 || !text.EndsWith('\n') || text.Any(c => c != '\n' && char.IsControl(c)))
        {
            return null;
        }

        var signatures = new List<(string, byte[], byte[])>();
        foreach (var line in text[(end + 2)..].Split('\n').SkipLast(1))
        {
            var parts = line.Split(' ');
            if (parts.Length != 3 || parts[0] != "\u2014" || Base64(parts[2]) is not { Length: > 4 } signed)
            {
                return null;
            }

            signatures.Add((parts[1], signed[..4], signed[4..]));
        }

        return new SignedText(text[..(end + 1)], signatures);
    }

    /// <summary>Null where the key signed the text under a name, else why it does not count.</summary>
    internal string? NotSignedBecause(PublicKey key, string name)
    {
        var wanted = key.Hash(name);
        var mine = Signatures.Where(s => s.Name == name && s.KeyHash.AsSpan().SequenceEqual(wanted)).ToArray();
        if (mine.Length == 0)
        {
            return "The key you gave did not sign it: it is signed by "
                + (Signatures.Count == 0
                    ? "nobody."
                    : string.Join(" and ", Signatures.Take(5).Select(s => $"key {Convert.ToHexStringLower(s.KeyHash)} of {s.Name}"))
                        + $", yours is key {Convert.ToHexStringLower(wanted)}.");
        }

        return mine.Any(s => key.Signed(Encoding.UTF8.GetBytes(Body), s.Signature))
            ? null
            : "The signature does not fit the text: it was changed after signing.";
    }

    internal static byte[]? Base64(string text)
    {
        var bytes = new byte[text.Length];
        // One way to write it, so that nothing hides in blanks and spare bits.
        return Convert.TryFromBase64String(text, bytes, out var length) && Convert.ToBase64String(bytes, 0, length) == text ? bytes[..length] : null;
    }
}

/// <summary>A checkpoint in a signed text, parsed and not yet believed (C2SP tlog-checkpoint).</summary>
/// <param name="Origin">First line.</param>
/// <param name="Size">Second line.</param>
/// <param name="Root">Third line, 32 bytes.</param>
/// <param name="Text">What is signed, and by whom.</param>
internal sealed record Note(string Origin, long Size, byte[] Root, SignedText Text)
{
    /// <summary>Null where the bytes are not a checkpoint.</summary>
    internal static Note? Read(byte[] bytes)
    {
        if (SignedText.Read(bytes) is not { } text)
        {
            return null;
        }

        var lines = text.Body.Split('\n');
        return lines.Length >= 4 && lines[0].Length > 0
            && long.TryParse(lines[1], NumberStyles.None, CultureInfo.InvariantCulture, out var size)
            && lines[1] == size.ToString(CultureInfo.InvariantCulture)
            && SignedText.Base64(lines[2]) is { Length: 32 } root
            ? new Note(lines[0], size, root, text)
            : null;
    }

    /// <summary>What is signed: the lines with their line feeds.</summary>
    internal string Body => Text.Body;

    /// <summary>Name, key hash and signature of each signature line.</summary>
    internal IReadOnlyList<(string Name, byte[] KeyHash, byte[] Signature)> Signatures => Text.Signatures;

    /// <summary>The same of a text.</summary>
    internal static Note? Read(string text) => Read(Encoding.UTF8.GetBytes(text));

    /// <summary>Root in hex.</summary>
    internal string Hex => Convert.ToHexStringLower(Root);

    /// <summary>When the witness cosigned it, in seconds since 1970; null where it did not.</summary>
    internal long? CosignedBy(Witness.Cosigner witness) => witness.SignedAt(this);

    /// <summary>Null where the key signed the checkpoint under its own origin, else why it does not count.</summary>
    internal string? NotSignedBecause(PublicKey key) => key.IsNotOf(Origin) ?? Text.NotSignedBecause(key, Origin);
}
