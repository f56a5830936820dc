using Npgsql;
using RabbitMQ.Client;
using Testcontainers.PostgreSql;
using Testcontainers.RabbitMq;

namespace Traceability.Containers.Tests;

/// <summary>PostgreSQL and RabbitMQ in containers of their own, both running.</summary>
public sealed class ServerContainers : IAsyncLifetime
{
    public PostgreSqlContainer Postgres { get; } = TestServers.Containers.Postgres();

    public RabbitMqContainer RabbitMq { get; } = TestServers.Containers.RabbitMq();

    public Task InitializeAsync() => Task.WhenAll(Postgres.StartAsync(), RabbitMq.StartAsync());

    public async Task DisposeAsync()
    {
        await Postgres.DisposeAsync();
        await RabbitMq.DisposeAsync();
    }
}

public sealed class Server_containers(ServerContainers servers) : IClassFixture<ServerContainers>
{
    [Theory]
    [InlineData("fsync")]
    [InlineData("synchronous_commit")]
    [InlineData("full_page_writes")]
    public async Task Postgres_keeps_what_it_committed(string setting)
    {
        await using var source = NpgsqlDataSource.Create(servers.Postgres.GetConnectionString());
        await using var command = source.CreateCommand($"show {setting}");
        Assert.Equal("on", await command.ExecuteScalarAsync());
    }

    [Fact]
    public async Task RabbitMq_stopped_and_started_still_has_a_confirmed_message()
    {
        const string queue = "kept";
        await using (var connection = await ConnectAsync())
        {
            var confirming = new CreateChannelOptions(publisherConfirmationsEnabled: true, publisherConfirmationTrackingEnabled: true);
            await using var channel = await connection.CreateChannelAsync(confirming);
            await channel.QueueDeclareAsync(queue, durable: true, exclusive: false, autoDelete: false, new Dictionary<string, object?> { ["x-queue-type"] = "quorum" });
            await channel.BasicPublishAsync("", queue, mandatory: true, new BasicProperties { Persistent = true }, new byte[] { 42 });
        }

        await servers.RabbitMq.StopAsync();
        await servers.RabbitMq.StartAsync();

        await using var again = await ConnectAsync();
        await using var reader = await again.CreateChannelAsync();
        var message = await reader.BasicGetAsync(queue, autoAck: true);
        Assert.Equal([42], message!.Body.ToArray());
    }

    private async Task<IConnection> ConnectAsync() =>
        await new ConnectionFactory { Uri = new Uri(servers.RabbitMq.GetConnectionString()) }.CreateConnectionAsync();
}
