using System.Globalization;
using System.Text;

namespace Traceability.Verifier;

/// <summary>
/// Statements by which a log's key says, before it is put away, where its log ended and under which name and key it goes on: signed notes whose
/// text is <c>succession/v1</c>, the old log's name, size and root, the new log's name and its key line, a line each.
/// </summary>
internal static class Succession
{
    private const string Header = "succession/v1\n";

    /// <summary>Signatures looked at. Our own choice: each step has one, and a packet could hold thousands that fit nothing.</summary>
    private const int MostSignatures = 100;

    /// <summary>Follows the key from log to log.</summary>
    /// <param name="key">The key obtained on another way.</param>
    /// <param name="statements">Any number of statements, one behind the other.</param>
    /// <param name="origin">The log in question.</param>
    /// <param name="remarks">Takes a sentence for each step.</param>
    /// <returns>The key of that log; the key given where no statement of it leads there.</returns>
    internal static PublicKey Follow(PublicKey key, string statements, string origin, List<string> remarks)
    {
        var notes = statements.Split(Header, StringSplitOptions.RemoveEmptyEntries).Select(n => Header + n).ToArray();
        var steps = new List<string>();
        var at = key;
        var left = MostSignatures;
        // A name is never used twice, so there are at most as many steps as statements.
        for (var step = 0; step < notes.Length && at.Name != origin; step++)
        {
            var next = notes.Select(n => Read(n, at, ref left)).FirstOrDefault(n => n is not null);
            if (next is not var (from, size, successor) || successor is null)
            {
                break;
            }

            steps.Add(string.Create(CultureInfo.InvariantCulture, $"The key of {from} says by its signature that this log ended at {size} records and goes on as {successor.Name} under key {Convert.ToHexStringLower(successor.Hash(successor.Name!))}."));
            at = successor;
        }

        if (at.Name != origin)
        {
            return key;
        }

        remarks.AddRange(steps);
        return at;
    }

    private static (string From, long Size, PublicKey Successor)? Read(string note, PublicKey key, ref int left)
    {
        var end = note.IndexOf("\n\n", StringComparison.Ordinal);
        if (end < 0)
        {
            return null;
        }

        var body = note[..(end + 1)];
        var lines = body.Split('\n');
        // One way to write it, as of a checkpoint.
        if (lines.Length != 7 || !long.TryParse(lines[2], NumberStyles.None, CultureInfo.InvariantCulture, out var size) || lines[2] != size.ToString(CultureInfo.InvariantCulture)
            || SignedText.Base64(lines[3]) is not { Length: 32 } || (key.Name is not null && key.Name != lines[1]))
        {
            return null;
        }

        // Read before anything is believed: whoever made the packet wrote it.
        if (PublicKey.OfLine(lines[5]) is not { } successor || successor.Name != lines[4])
        {
            return null;
        }

        foreach (var line in note[(end + 2)..].Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            var parts = line.Split(' ');
            var bytes = new byte[128];
            if (parts.Length == 3 && parts[0] == "—" && parts[1] == lines[1] && Convert.TryFromBase64String(parts[2], bytes, out var length) && length == 68
                && bytes.AsSpan(0, 4).SequenceEqual(key.Hash(lines[1])) && left-- > 0 && key.Signed(Encoding.UTF8.GetBytes(body), bytes[4..68]))
            {
                return (lines[1], size, successor);
            }
        }

        return null;
    }
}
