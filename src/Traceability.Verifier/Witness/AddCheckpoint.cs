using System.Globalization;

namespace Traceability.Verifier.Witness;

/// <summary>An answer of the witness: HTTP status, media type, body.</summary>
internal readonly record struct WitnessAnswer(int Status, string Type, string Body)
{
    internal static WitnessAnswer Text(int status, string body) => new(status, "text/plain; charset=utf-8", body + "\n");
}

/// <summary>
/// The one request of a witness (C2SP tlog-witness 1.0, published): the size it is believed to know, a consistency proof, and a checkpoint.
/// It answers with its cosignature only where the log goes on from what it cosigned before.
/// </summary>
internal static class AddCheckpoint
{
    /// <summary>Larger requests are not read, bytes. Sixty-three hashes and a note with some signatures fit many times over.</summary>
    internal const int LargestRequest = 64 * 1024;

    private const int MostHashes = 63;

    /// <param name="request">The request's body.</param>
    /// <param name="time">Now, in seconds since 1970.</param>
    internal static WitnessAnswer Answer(WitnessFolder witness, string request, long time)
    {
        if (Read(request) is not var (oldSize, proof, text, note))
        {
            return WitnessAnswer.Text(400, "The body must be: 'old SIZE', at most 63 lines of base64 hashes, an empty line, and a checkpoint.");
        }

        if (witness.LogKey(note.Origin) is not { } key)
        {
            return WitnessAnswer.Text(404, "This witness does not watch that log.");
        }

        // A line that names the log's key and does not fit spoils the note, also where another line fits.
        var named = note.Signatures.Where(s => s.Name == note.Origin && s.KeyHash.AsSpan().SequenceEqual(key.Hash(note.Origin))).ToArray();
        if (note.NotSignedBecause(key) is { } why)
        {
            return WitnessAnswer.Text(403, why);
        }

        if (!named.All(s => key.Signed(System.Text.Encoding.UTF8.GetBytes(note.Body), s.Signature)))
        {
            return WitnessAnswer.Text(403, "A signature line of the log's key does not fit the text.");
        }

        if (oldSize > note.Size)
        {
            return WitnessAnswer.Text(400, $"The old size {oldSize} is larger than the checkpoint's {note.Size}.");
        }

        var known = witness.Latest(note.Origin) is { } kept ? Note.Read(kept) ?? throw new InvalidDataException($"The checkpoint kept of {note.Origin} cannot be read.") : null;
        if (oldSize != (known?.Size ?? 0))
        {
            return new WitnessAnswer(409, "text/x.tlog.size", string.Create(CultureInfo.InvariantCulture, $"{known?.Size ?? 0}\n"));
        }

        if (Contradicts(known, note, proof) is { } contradiction)
        {
            if (known?.Size == note.Size)
            {
                // The log's key signed both: kept, it is proof against the log.
                witness.KeepContradiction(note.Origin, time, text);
            }

            return WitnessAnswer.Text(422, contradiction);
        }

        var line = witness.Key.Cosign(witness.Name, note.Body, time);
        witness.Keep(note.Origin, $"{note.Body}\n— {note.Origin} {Convert.ToBase64String([.. named[0].KeyHash, .. named[0].Signature])}\n{line}");
        return new WitnessAnswer(200, "text/plain; charset=utf-8", line);
    }

    private static string? Contradicts(Note? known, Note note, byte[][] proof)
    {
        if (note.Size == 0 && !note.Root.AsSpan().SequenceEqual(new RunningRoot().Root()))
        {
            return "A log without records has another root.";
        }

        if (known is null || known.Size == 0)
        {
            return proof.Length == 0 ? null : "From nothing there is no proof to give: send no hashes.";
        }

        if (known.Size == note.Size)
        {
            return known.Root.AsSpan().SequenceEqual(note.Root) && proof.Length == 0 ? null : $"Two histories: at {known.Size} records this witness cosigned another root.";
        }

        return Tree.Continues(known.Size, note.Size, known.Root, note.Root, proof)
            ? null
            : $"The proof does not show that the log of {note.Size} records begins with the {known.Size} that this witness cosigned.";
    }

    private static (long OldSize, byte[][] Proof, string Text, Note Note)? Read(string request)
    {
        var end = request.IndexOf("\n\n", StringComparison.Ordinal);
        if (end < 0)
        {
            return null;
        }

        var lines = request[..end].Split('\n');
        if (lines.Length > MostHashes + 1 || !lines[0].StartsWith("old ", StringComparison.Ordinal)
            || !long.TryParse(lines[0][4..], NumberStyles.None, CultureInfo.InvariantCulture, out var oldSize)
            || lines[0][4..] != oldSize.ToString(CultureInfo.InvariantCulture))
        {
            return null;
        }

        var proof = new byte[lines.Length - 1][];
        for (var i = 1; i < lines.Length; i++)
        {
            var hash = new byte[48];
            if (lines[i].Length != 44 || !Convert.TryFromBase64String(lines[i], hash, out var length) || length != 32)
            {
                return null;
            }

            proof[i - 1] = hash[..32];
        }

        var text = request[(end + 2)..];
        return Note.Read(text) is { } note ? (oldSize, proof, text, note) : null;
    }

    /// <summary>The body of the request, as a file for a witness without a connection.</summary>
    internal static string Request(long oldSize, IEnumerable<byte[]> proof, string checkpoint) =>
        string.Create(CultureInfo.InvariantCulture, $"old {oldSize}\n{string.Concat(proof.Select(h => Convert.ToBase64String(h) + "\n"))}\n{checkpoint}");
}
