using System.Text.Json;
using Traceability.Service.Operations;

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

    /// <summary>
    /// Reads the file; null where there is none. Where a power cut took back the rename of a newer one, that lies beside it
    /// whole, and it is the memory: what it says may have been shown to somebody.
    /// </summary>
    /// <exception cref="LogContradictionException">The file is there but does not hold together.</exception>
    public static SignerState? Read(string path)
    {
        var standing = File.Exists(path) ? Parse(path) : null;
        if (!File.Exists(DurableFile.Next(path)))
        {
            return standing;
        }

        try
        {
            var left = Parse(DurableFile.Next(path));
            return standing is null || left.Continues(standing) ? left : standing;
        }
        catch (LogContradictionException)
        {
            // Cut off while it was written: nothing rests on it.
            return standing;
        }
    }

    /// <summary>
    /// Writes the file so that a power cut leaves either the old or the new one, and the new one once this came back.
    /// </summary>
    public void Write(string path) => DurableFile.Write(path, file => JsonSerializer.Serialize(file, this, s_json));

    /// <summary>Whether this is a later state of the same log, or of one that was begun after it.</summary>
    private bool Continues(SignerState other) =>
        PublicKey == other.PublicKey && (Origin == other.Origin ? Size > other.Size : Ended.Count > other.Ended.Count);

    private static SignerState Parse(string path)
    {
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
}

/// <summary>The database's log is not the one that was signed. Nothing more is signed until a person decides.</summary>
public sealed class LogContradictionException(string message, Exception? inner = null) : Exception(message, inner);
