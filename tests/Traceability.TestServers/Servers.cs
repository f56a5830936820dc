using System.Diagnostics;

namespace Traceability.TestServers;

/// <summary>
/// The real PostgreSQL and RabbitMQ of a test run, one of each per process, started at the first call: those of the environment variables
/// TRACE_TEST_POSTGRES and TRACE_TEST_RABBITMQ, else containers where an engine answers, else private ones from <c>ops/servers</c>.
/// What was started here ends with the process. A server that cannot be had is an exception, so that tests fail and never skip.
/// </summary>
public static class Servers
{
    private static readonly Lazy<Task<bool>> Engine = new(Containers.EngineAnswersAsync);

    private static readonly Lazy<Task<string>> PostgresServer = new(async () =>
    {
        if (Given("TRACE_TEST_POSTGRES") is { } given)
        {
            return given;
        }

        if (!await Engine.Value)
        {
            return await PrivateAsync("postgres", "TRACE_TEST_POSTGRES");
        }

        var container = Containers.Postgres();
        AtExit(() => container.DisposeAsync().AsTask().GetAwaiter().GetResult());
        await container.StartAsync();
        return container.GetConnectionString();
    });

    private static readonly Lazy<Task<string>> RabbitMqServer = new(async () =>
    {
        if (Given("TRACE_TEST_RABBITMQ") is { } given)
        {
            return given;
        }

        if (!await Engine.Value)
        {
            return await PrivateAsync("rabbitmq", "TRACE_TEST_RABBITMQ");
        }

        var container = Containers.RabbitMq();
        AtExit(() => container.DisposeAsync().AsTask().GetAwaiter().GetResult());
        await container.StartAsync();
        return container.GetConnectionString();
    });

    /// <summary>An Npgsql connection string of a user who may create databases.</summary>
    /// <exception cref="InvalidOperationException">No server could be had; the message says why.</exception>
    public static async Task<string> PostgresAsync()
    {
        var server = await PostgresServer.Value;
        Plain((string)new System.Data.Common.DbConnectionStringBuilder { ConnectionString = server }["Host"]);
        return server;
    }

    /// <summary>An amqp:// address of a user with all rights.</summary>
    /// <exception cref="InvalidOperationException">No server could be had; the message says why.</exception>
    public static async Task<string> RabbitMqAsync()
    {
        var server = await RabbitMqServer.Value;
        Plain(new Uri(server).Host);
        return server;
    }

    // The servers of the tests have no certificates, and an engine's may stand on another machine: the service under test, in this process or started by it, takes them as they are.
    private static void Plain(string host)
    {
        lock (PlainHosts)
        {
            if (PlainHosts.Add(host)) Environment.SetEnvironmentVariable("Connections__PlainTo", string.Join(',', PlainHosts));
        }
    }

    private static readonly HashSet<string> PlainHosts = [];

    /// <summary>The repository's root folder, found from where the tests were built.</summary>
    public static string Root { get; } = FindRoot();

    private static string? Given(string variable) =>
        Environment.GetEnvironmentVariable(variable) is { Length: > 0 } value ? value : null;

    private static async Task<string> PrivateAsync(string server, string variable)
    {
        var folder = Directory.CreateTempSubdirectory("trace-servers-").FullName;
        AtExit(() =>
        {
            RunAsync("remove", folder).GetAwaiter().GetResult();
            Directory.Delete(folder, recursive: true);
        });
        await RunAsync("up", folder, server);
        var prefix = $"export {variable}='";
        var line = (await File.ReadAllLinesAsync(Path.Combine(folder, "env"))).Single(l => l.StartsWith(prefix, StringComparison.Ordinal));
        return line[prefix.Length..^1];
    }

    private static async Task RunAsync(params string[] arguments)
    {
        var start = new ProcessStartInfo(Path.Combine(Root, "ops", "servers"), arguments) { RedirectStandardError = true };
        using var process = Process.Start(start)!;
        var said = await process.StandardError.ReadToEndAsync();
        await process.WaitForExitAsync();
        if (process.ExitCode != 0)
        {
            throw new InvalidOperationException($"ops/servers {string.Join(' ', arguments)} failed: {said}");
        }
    }

    private static void AtExit(Action stop) => AppDomain.CurrentDomain.ProcessExit += (_, _) => stop();

    private static string FindRoot()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "Traceability.sln")))
            {
                return folder.FullName;
            }
        }

        throw new InvalidOperationException($"Traceability.sln is in no folder above {AppContext.BaseDirectory}");
    }
}
