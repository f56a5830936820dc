using MassTransit;
using RabbitMQ.Client;

namespace Traceability.Service.Intake;

/// <summary>
/// Declares the facts queue before anything is sent to it, with the very arguments the consumer declares it with, and
/// reads its depth. Quorum: it survives a crash of the broker. Single active consumer: one recorder at a time, in order.
/// </summary>
public sealed partial class BusTopology(IConfiguration configuration, BrokerConnection broker, ILogger<BusTopology> log) : BackgroundService
{
    /// <summary>Name of the facts queue; several plants on one broker each have their own.</summary>
    public string Queue { get; } = QueueName(configuration);

    /// <summary>
    /// Redeliveries before the broker sets a message apart, in the queue with "-apart" behind its name. A kill -9 of a worker
    /// is one redelivery of all it held, so the figure is far above what a bad day brings.
    /// </summary>
    public const int DeliveryLimit = 1000;

    public Uri Address => new("exchange:" + Queue + "?durable=true");

    public static string QueueName(IConfiguration configuration) => configuration["BusQueue"] ?? "facts";

    private IConnection? _connection;

    /// <summary>Whether the queue is known to be there.</summary>
    public bool Ready { get; private set; }

    /// <summary>Why the broker takes nothing although it is there, in its words: an alarm for disk or memory. Null when it takes.</summary>
    public string? Blocked { get; private set; }

    /// <summary>Why the broker, although it is there, comes to no connection: its certificate, the password. Null when it does, or when it is merely away.</summary>
    public string? WhyNot { get; private set; }

    /// <summary>Messages waiting in the queue; null when the broker does not answer.</summary>
    public long? Depth { get; private set; }

    /// <summary>Messages the broker has set apart after too many redeliveries; none is the only good number.</summary>
    public long Apart { get; private set; }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        var factory = broker.Factory();
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                _connection ??= await ConnectAsync(factory, stoppingToken);
                await using var channel = await _connection.CreateChannelAsync(cancellationToken: stoppingToken);
                await channel.ExchangeDeclareAsync(Queue, ExchangeType.Fanout, durable: true, cancellationToken: stoppingToken);
                await channel.QueueDeclareAsync(Queue, durable: true, exclusive: false, autoDelete: false, Arguments(Queue), cancellationToken: stoppingToken);
                await channel.QueueDeclareAsync(Queue + "-apart", durable: true, exclusive: false, autoDelete: false, cancellationToken: stoppingToken);
                await channel.QueueBindAsync(Queue, Queue, "", cancellationToken: stoppingToken);
                while (!stoppingToken.IsCancellationRequested)
                {
                    // A broker short of disk or memory tells only those who publish that it takes nothing; this goes to a queue that nobody has.
                    if (Blocked is null) await channel.BasicPublishAsync("", Queue + "-probe", ReadOnlyMemory<byte>.Empty, stoppingToken);
                    // While it does so it does not answer either.
                    for (Ready = Blocked is null; Blocked is not null && _connection.IsOpen; Ready = false) await Task.Delay(TimeSpan.FromSeconds(1), stoppingToken);
                    Depth = await channel.MessageCountAsync(Queue, stoppingToken);
                    Apart = await channel.MessageCountAsync(Queue + "-apart", stoppingToken);
                    await Task.Delay(TimeSpan.FromSeconds(1), stoppingToken);
                }
            }
            catch (Exception e) when (!stoppingToken.IsCancellationRequested)
            {
                Ready = false;
                Blocked = null;
                Depth = null;
                WhyNot = broker.WhyNot(e);
                LogAway(log, WhyNot ?? e.Message);
                await CloseAsync();
                await Task.Delay(TimeSpan.FromSeconds(1), stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
            catch (OperationCanceledException)
            {
                break;
            }
        }

        await CloseAsync();
    }

    private async Task<IConnection> ConnectAsync(ConnectionFactory factory, CancellationToken cancel)
    {
        var connection = await factory.CreateConnectionAsync(cancel);
        WhyNot = null;
        connection.ConnectionBlockedAsync += (_, e) =>
        {
            Ready = false;
            Blocked = e.Reason;
            LogBlocked(log, e.Reason);
            return Task.CompletedTask;
        };
        connection.ConnectionUnblockedAsync += (_, _) =>
        {
            Blocked = null;
            return Task.CompletedTask;
        };
        return connection;
    }

    public static Dictionary<string, object?> Arguments(string queue) => new(StringComparer.Ordinal)
    {
        ["x-queue-type"] = "quorum",
        ["x-single-active-consumer"] = true,
        ["x-delivery-limit"] = DeliveryLimit,
        ["x-dead-letter-exchange"] = "",
        ["x-dead-letter-routing-key"] = queue + "-apart",
    };

    private async Task CloseAsync()
    {
        try
        {
            if (_connection is not null) await _connection.DisposeAsync();
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            // The broker is gone; there is nothing left to close.
        }

        _connection = null;
    }

    [LoggerMessage(LogLevel.Error, "The message broker takes nothing: {Why}")]
    private static partial void LogBlocked(ILogger logger, string why);

    [LoggerMessage(LogLevel.Warning, "The message broker is away: {Why}")]
    private static partial void LogAway(ILogger logger, string why);
}
