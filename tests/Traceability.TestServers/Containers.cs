using DotNet.Testcontainers.Configurations;
using Testcontainers.PostgreSql;
using Testcontainers.RabbitMq;

namespace Traceability.TestServers;

/// <summary>PostgreSQL and RabbitMQ as containers, set up for tests that rely on what was committed being kept.</summary>
public static class Containers
{
    // Containers made through the API may get a stop time-out of nothing, which makes every stop a kill.
    private static readonly TimeSpan StopTimeout = TimeSpan.FromSeconds(10);

    /// <summary>The image of PostgreSQL: environment variable TRACE_POSTGRES_IMAGE, else the usual one.</summary>
    public static string PostgresImage => Environment.GetEnvironmentVariable("TRACE_POSTGRES_IMAGE") ?? "postgres:15.14";

    /// <summary>The image of RabbitMQ: environment variable TRACE_RABBITMQ_IMAGE, else the usual one.</summary>
    public static string RabbitMqImage => Environment.GetEnvironmentVariable("TRACE_RABBITMQ_IMAGE") ?? "rabbitmq:3.12.14";

    /// <summary>A PostgreSQL, not started. <c>GetConnectionString()</c> holds once it is.</summary>
    public static PostgreSqlContainer Postgres() => new PostgreSqlBuilder(PostgresImage)
        .WithDatabase("trace").WithUsername("trace")
        // The builder trades durability for speed; the last setting of a name is the one that counts.
        .WithCommand(
            "-c", "fsync=on", "-c", "synchronous_commit=on", "-c", "full_page_writes=on",
            "-c", "max_connections=200", "-c", "idle_in_transaction_session_timeout=60s")
        .WithCreateParameterModifier(parameters => parameters.StopTimeout = StopTimeout)
        .Build();

    /// <summary>A RabbitMQ, not started. <c>GetConnectionString()</c> (amqp://...) holds once it is.</summary>
    public static RabbitMqContainer RabbitMq() => new RabbitMqBuilder(RabbitMqImage)
        .WithUsername("trace")
        .WithCreateParameterModifier(parameters => parameters.StopTimeout = StopTimeout)
        .Build();

    /// <summary>Whether a container engine answers where Testcontainers looks for one.</summary>
    public static async Task<bool> EngineAnswersAsync()
    {
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(10));
        try
        {
            using var engine = TestcontainersSettings.OS.DockerEndpointAuthConfig.GetDockerClientBuilder(Guid.NewGuid()).Build();
            await engine.System.PingAsync(patience.Token);
            return true;
        }
        catch (Exception)
        {
            // No socket, no right to it, no answer: to the caller it is all the same, the servers come from elsewhere.
            return false;
        }
    }
}
