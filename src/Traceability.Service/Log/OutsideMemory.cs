using System.Text;

namespace Traceability.Service.Log;

/// <summary>
/// What the log showed to somebody outside this machine. Database and signer restored together from one backup agree with each other; only
/// what was seen outside tells that the log had already gone further. Sources: the witnesses that have an address, and a file on another
/// machine (<c>Signer:MemoryFile</c>).
/// </summary>
public sealed partial class OutsideMemory(Witnesses witnesses, Cosigning cosigning, LogSignerOptions options, ILogger<OutsideMemory> log)
{
    /// <summary>Who could not be asked last time.</summary>
    public IReadOnlyList<string> Unasked { get; private set; } = [];

    /// <summary>The newest checkpoint of the log that each source holds, as far as the log's own key signed it: nobody else's word stops the signer.</summary>
    public async Task<IReadOnlyList<(string By, Checkpoint Shown)>> ShownAsync(string origin, byte[] publicKey, CancellationToken cancellation)
    {
        var shown = new List<(string, Checkpoint)>();
        var unasked = new List<string>();
        if (options.MemoryFile is { } file)
        {
            try
            {
                if (File.Exists(file) && Checkpoint.Open(await File.ReadAllTextAsync(file, cancellation), publicKey) is { } kept && kept.Origin == origin)
                {
                    shown.Add((file, kept));
                }
            }
            catch (Exception e) when (e is IOException or UnauthorizedAccessException or FormatException)
            {
                unasked.Add(file);
                LogUnasked(log, file, e.Message);
            }
        }

        foreach (var witness in witnesses.All.Where(w => w.Url is not null))
        {
            try
            {
                if (await cosigning.ShownByAsync(witness, origin, cancellation) is { } note && Checkpoint.Open(note, publicKey) is { } kept && kept.Origin == origin)
                {
                    shown.Add(($"witness {witness.Name}", kept));
                }
            }
            catch (Exception e) when (!cancellation.IsCancellationRequested && e is HttpRequestException or TaskCanceledException or FormatException or InvalidOperationException)
            {
                unasked.Add(witness.Name);
                LogUnasked(log, witness.Name, e.Message);
            }
        }

        Unasked = unasked;
        return shown;
    }

    /// <summary>Keeps a checkpoint in the file outside.</summary>
    public async Task KeepAsync(SealedCheckpoint checkpoint, CancellationToken cancellation)
    {
        if (options.MemoryFile is not { } file)
        {
            return;
        }

        try
        {
            var next = file + ".next";
            await using (var stream = new FileStream(next, FileMode.Create, FileAccess.Write))
            {
                await stream.WriteAsync(Encoding.UTF8.GetBytes(checkpoint.Note), cancellation);
                stream.Flush(flushToDisk: true);
            }

            File.Move(next, file, overwrite: true);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            LogNotKept(log, file, e.Message);
        }
    }

    [LoggerMessage(LogLevel.Warning, "{Source} could not be asked what it saw of the log: {Why}")]
    private static partial void LogUnasked(ILogger logger, string source, string why);

    [LoggerMessage(LogLevel.Warning, "The newest checkpoint could not be kept in {File}: {Why}")]
    private static partial void LogNotKept(ILogger logger, string file, string why);
}
