using MassTransit;

namespace Traceability.Service.Recording;

/// <summary>Takes batches of messages off the facts queue into the recorder. Acknowledges only what is committed.</summary>
public sealed partial class FactsConsumer(Recorder recorder, ILogger<FactsConsumer> log) : IConsumer<Batch<FactsReceived>>
{
    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(500);

    public async Task Consume(ConsumeContext<Batch<FactsReceived>> context)
    {
        var entries = context.Message.SelectMany(m => m.Message.Entries).ToList();
        var said = false;
        while (true)
        {
            try
            {
                await recorder.RecordAsync(entries, context.CancellationToken);
                return;
            }
            catch (Exception e) when (!context.CancellationToken.IsCancellationRequested)
            {
                // Whatever hinders the recording of whole batches, the messages stay unacknowledged in the broker, where they
                // are safe. A single bad entry never comes here: the recorder parks it.
                if (!said) LogAway(log, entries.Count, e.Message);
                said = true;
                await Task.Delay(Pause, context.CancellationToken);
            }
        }
    }

    [LoggerMessage(LogLevel.Warning, "Recording of {Count} facts is tried again until it succeeds: {Why}")]
    private static partial void LogAway(ILogger logger, int count, string why);
}
