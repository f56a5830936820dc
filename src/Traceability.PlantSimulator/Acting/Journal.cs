using System.Text.Json;
using Traceability.Core.Records;

namespace Traceability.PlantSimulator.Acting;

/// <summary>One fact that a station is about to send: the claim the check holds the service to.</summary>
/// <param name="Refused">A later line for the same fact: intake answered that it will never take it, so it need not be there.</param>
public sealed record Intent(string Source, string Id, string ContentHash, Guid RecordId, string Device, bool Refused = false)
{
    public static Intent Of(CloudEvent sent, string device) => new(sent.Source, sent.Id, sent.ContentHash, sent.RecordId, device);
}

/// <summary>
/// The simulator's own account of what it means to send, one JSON line each, on disk before anything is posted: whatever
/// dies afterwards, on either side, the check knows what must be there.
/// </summary>
public sealed class Journal : IDisposable
{
    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web);

    private readonly FileStream _file;
    private readonly Lock _lock = new();

    public Journal(string path) => _file = new FileStream(path, FileMode.Append, FileAccess.Write, FileShare.Read);

    public long Written { get; private set; }

    /// <summary>Returns when the lines are on the disk.</summary>
    public void Write(IEnumerable<Intent> intents)
    {
        using var lines = new MemoryStream();
        var count = 0;
        foreach (var intent in intents)
        {
            JsonSerializer.Serialize(lines, intent, Json);
            lines.WriteByte((byte)'\n');
            count++;
        }

        lock (_lock)
        {
            lines.Position = 0;
            lines.CopyTo(_file);
            _file.Flush(flushToDisk: true);
            Written += count;
        }
    }

    public static IReadOnlyList<Intent> Read(string path) =>
        [.. File.ReadLines(path).Where(l => l.Length > 0).Select(l => JsonSerializer.Deserialize<Intent>(l, Json)!)];

    public void Dispose() => _file.Dispose();
}
