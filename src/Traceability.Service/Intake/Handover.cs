using System.Threading.Channels;
using MassTransit;
using Traceability.Service.Recording;

namespace Traceability.Service.Intake;

/// <summary>Where intake hands facts over. Returns only when they are safe: recorded, or confirmed by the broker.</summary>
public interface IHandover
{
    /// <returns>What became of each entry; null entries mean "received": safe on the bus, not yet recorded.</returns>
    /// <exception cref="HandoverException">They are not known to be safe; the sender keeps them and sends again.</exception>
    Task<IReadOnlyList<Outcome>?> HandAsync(IReadOnlyList<Received> entries, CancellationToken cancel);
}

/// <summary>Facts could not be made safe in time.</summary>
public sealed class HandoverException(string message, Exception? inner = null) : Exception(message, inner);

/// <summary>One machine without a broker: the same recorder in-process, many requests in one transaction.</summary>
public sealed class InProcessHandover(Recorder recorder, IHostApplicationLifetime life) : BackgroundService, IHandover
{
    private const int LargestBatch = 400;
    private static readonly TimeSpan Longest = TimeSpan.FromSeconds(15);

    private readonly Channel<(IReadOnlyList<Received> Entries, TaskCompletionSource<IReadOnlyList<Outcome>> Done)> _waiting =
        Channel.CreateBounded<(IReadOnlyList<Received>, TaskCompletionSource<IReadOnlyList<Outcome>>)>(1000);

    public async Task<IReadOnlyList<Outcome>?> HandAsync(IReadOnlyList<Received> entries, CancellationToken cancel)
    {
        var done = new TaskCompletionSource<IReadOnlyList<Outcome>>(TaskCreationOptions.RunContinuationsAsynchronously);
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancel, life.ApplicationStopping);
        limit.CancelAfter(Longest);
        try
        {
            await _waiting.Writer.WriteAsync((entries, done), limit.Token);
            return await done.Task.WaitAsync(limit.Token);
        }
        catch (Exception e) when (e is OperationCanceledException or ChannelClosedException || Recorder.IsAway(e))
        {
            throw new HandoverException("The database did not confirm in time; nothing is lost as long as the sender keeps the facts and sends them again.", e);
        }
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        var taken = new List<(IReadOnlyList<Received> Entries, TaskCompletionSource<IReadOnlyList<Outcome>> Done)>();
        while (await _waiting.Reader.WaitToReadAsync(stoppingToken))
        {
            taken.Clear();
            var count = 0;
            while (count < LargestBatch && _waiting.Reader.TryRead(out var next))
            {
                taken.Add(next);
                count += next.Entries.Count;
            }

            try
            {
                var outcomes = await recorder.RecordAsync([.. taken.SelectMany(t => t.Entries)], stoppingToken);
                var from = 0;
                foreach (var (entries, done) in taken)
                {
                    done.TrySetResult([.. outcomes.Skip(from).Take(entries.Count)]);
                    from += entries.Count;
                }
            }
            catch (Exception e)
            {
                foreach (var (_, done) in taken) done.TrySetException(e);
                if (stoppingToken.IsCancellationRequested) return;
            }
        }
    }
}

/// <summary>The bus: RabbitMQ confirms before intake answers, and takes facts while PostgreSQL is away.</summary>
public sealed class BusHandover(ISendEndpointProvider bus, BusTopology topology) : IHandover
{
    private static readonly TimeSpan Longest = TimeSpan.FromSeconds(5);

    public async Task<IReadOnlyList<Outcome>?> HandAsync(IReadOnlyList<Received> entries, CancellationToken cancel)
    {
        // A message sent before its queue was ever bound is lost in silence, so nothing is sent before the queue is seen.
        if (topology.Blocked is { } why) throw new HandoverException($"The message broker takes nothing ({why}); keep the facts and send them again.");
        if (!topology.Ready) throw new HandoverException("The message broker is not reachable; keep the facts and send them again.");
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancel);
        limit.CancelAfter(Longest);
        try
        {
            var endpoint = await bus.GetSendEndpoint(topology.Address);
            await endpoint.Send(new FactsReceived { Entries = entries }, limit.Token);
            return null;
        }
        catch (Exception e) when (!cancel.IsCancellationRequested)
        {
            throw new HandoverException("The message broker did not confirm in time; keep the facts and send them again.", e);
        }
    }
}
