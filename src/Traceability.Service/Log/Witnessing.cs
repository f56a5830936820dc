using Npgsql;

namespace Traceability.Service.Log;

/// <summary>Part of the signer: shows the newest checkpoint to the witnesses and keeps it outside, every few seconds while there is a new one.</summary>
public sealed class Witnessing(LogSigner signer, LogReader reader, Cosigning cosigning, OutsideMemory outside, TimeProvider time, ILogger<Witnessing> logger) : BackgroundService
{
    private static readonly TimeSpan Pause = TimeSpan.FromSeconds(5);

    /// <inheritdoc/>
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        (string Origin, long Size) kept = ("", 0);
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                // A log that is in doubt is shown to nobody.
                if (signer.Refusal is null && await reader.LatestAsync(stoppingToken) is { } latest)
                {
                    if (kept != (latest.Origin, latest.Size))
                    {
                        await outside.KeepAsync(latest, stoppingToken);
                        kept = (latest.Origin, latest.Size);
                    }

                    await AskThoseWhoWereAwayAsync(latest.Origin, stoppingToken);
                    var answers = await cosigning.AskAsync(latest, stoppingToken);
                    if (answers.Any(a => a.State is WitnessState.Contradicts or WitnessState.Ahead) && await reader.LatestAsync(stoppingToken) is { } now && now.Size == latest.Size)
                    {
                        signer.LookOutsideAgain();
                    }
                }
            }
            catch (Exception e) when (e is NpgsqlException or IOException or TimeoutException or LogContradictionException)
            {
                logger.LogWarning("Witnessing waits: {Reason}", e.Message);
            }

            await Task.Delay(Pause, time, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    // Who could not be asked at the start may know of a history that this machine lost: as soon as it answers the signer looks again.
    private async Task AskThoseWhoWereAwayAsync(string origin, CancellationToken cancel)
    {
        var away = outside.Unasked.Count;
        if (away == 0) return;
        await outside.ShownAsync(origin, signer.Key.PublicKey, cancel);
        if (outside.Unasked.Count < away) signer.LookOutsideAgain();
    }
}
