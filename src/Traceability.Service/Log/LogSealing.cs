using Npgsql;

namespace Traceability.Service.Log;

/// <summary>Runs the signer at its interval. A refusal does not end it: the log may be put right, and is then sealed again.</summary>
public sealed class LogSealing(LogSigner signer, TimeProvider time, TimeSpan interval, ILogger<LogSealing> logger) : BackgroundService
{
    private static readonly TimeSpan s_afterRefusal = TimeSpan.FromSeconds(30);

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
                pause = s_afterRefusal;
            }
            catch (Exception e) when (e is NpgsqlException or IOException or TimeoutException)
            {
                logger.LogWarning("Sealing waits: {Reason}", e.Message);
            }

            await Task.Delay(pause, time, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }
}
