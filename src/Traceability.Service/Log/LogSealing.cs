using Npgsql;

namespace Traceability.Service.Log;

/// <summary>Runs the signer at its interval. A refusal does not end it: the log may be put right, and is then sealed again.</summary>
/// <param name="signer">The signer.</param>
/// <param name="time">Clock of the pauses.</param>
/// <param name="interval">Pause between two passes.</param>
/// <param name="logger">For what is passing; a refusal is said by the signer.</param>
/// <param name="afterRefusal">Pause after a refusal; 30 s where none is given, so that the alarm is not drowned in itself.</param>
public sealed class LogSealing(
    LogSigner signer, TimeProvider time, TimeSpan interval, ILogger<LogSealing> logger, TimeSpan? afterRefusal = null) : BackgroundService
{
    /// <inheritdoc/>
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            var pause = interval;
            try
            {
                await signer.SealOnceAsync(stoppingToken);
            }
            catch (LogContradictionException)
            {
                // The signer has said why, at critical.
                pause = afterRefusal ?? TimeSpan.FromSeconds(30);
            }
            catch (Exception e) when (e is NpgsqlException or IOException or TimeoutException)
            {
                logger.LogWarning("Sealing waits: {Reason}", e.Message);
            }

            await Task.Delay(pause, time, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }
}
