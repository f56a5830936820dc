using System.Text.Json;

namespace Traceability.Service.Log;

/// <summary>A log that ended: its last checkpoint.</summary>
public sealed record EndedLog(string Origin, long Size, string Root, string Note);

/// <summary>
/// What the signer knows by itself, whatever the database says: the log it last signed. Kept in a file of its own,
/// outside PostgreSQL, so that a changed or restored database cannot talk it into a second history.
/// </summary>
/// <param name="Origin">Which log.</param>
/// <param name="Size">Leaves signed.</param>
/// <param name="Root">Root signed, hex.</param>
/// <param name="Edge">Right edge at that size, hex, the largest subtree first.</param>
/// <param name="Note">The signed checkpoint; empty while nothing is signed.</param>
/// <param name="PublicKey">Key that signed, hex.</param>
/// <param name="Ended">Earlier logs of this signer, oldest first.</param>
public sealed record SignerState(
    string Origin, long Size, string Root, IReadOnlyList<string> Edge, string Note, string PublicKey, IReadOnlyList<EndedLog> Ended)
{
    private static readonly JsonSerializerOptions s_json = new(JsonSerializerDefaults.Web) { WriteIndented = true };

    /// <summary>A log without leaves.</summary>
    public static SignerState Start(string origin, LogKey key, IReadOnlyList<EndedLog> ended) =>
        new(origin, 0, Convert.ToHexStringLower(Merkle.EmptyRoot), [], "", Convert.ToHexStringLower(key.PublicKey), ended);

    /// <summary>This log after more leaves.</summary>
    public SignerState Sealed(CompactRange range, string note) => this with
    {
        Size = range.Size,
        Root = Convert.ToHexStringLower(range.Root()),
        Edge = [.. range.Edge.Select(Convert.ToHexStringLower)],
        Note = note,
    };

    /// <summary>The right edge.</summary>
    public CompactRange Range() => new(Size, Edge.Select(Convert.FromHexString));

    /// <summary>Reads the file; null where there is none.</summary>
    /// <exception cref="LogContradictionException">The file is there but does not hold together.</exception>
    public static SignerState? Read(string path)
    {
        if (!File.Exists(path))
        {
            return null;
        }

        try
        {
            var state = JsonSerializer.Deserialize<SignerState>(File.ReadAllBytes(path), s_json)
                ?? throw new JsonException("The file is empty.");
            if (Convert.ToHexStringLower(state.Range().Root()) != state.Root)
            {
                throw new JsonException("The right edge does not lead to the root.");
            }

            return state;
        }
        catch (Exception e) when (e is JsonException or FormatException or ArgumentException or NullReferenceException)
        {
            throw new LogContradictionException($"The signer's own file {path} cannot be used: {e.Message}", e);
        }
    }

    /// <summary>
    /// Writes the file so that a power cut leaves either the old or the new one. Should the cut undo the rename, the
    /// signer comes back behind the database's signed checkpoint and takes it up again by proof.
    /// </summary>
    public void Write(string path)
    {
        Directory.CreateDirectory(Path.GetDirectoryName(Path.GetFullPath(path))!);
        var next = path + ".next";
        using (var file = new FileStream(next, FileMode.Create, FileAccess.Write))
        {
            JsonSerializer.Serialize(file, this, s_json);
            file.Flush(flushToDisk: true);
        }

        File.Move(next, path, overwrite: true);
    }
}

/// <summary>The database's log is not the one that was signed. Nothing more is signed until a person decides.</summary>
public sealed class LogContradictionException(string message, Exception? inner = null) : Exception(message, inner);
