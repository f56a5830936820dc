using System.Net;
using System.Net.Sockets;
using Microsoft.AspNetCore.Builder;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Npgsql;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Checking;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Intake;
using Traceability.Service.Recording;
using Traceability.TestServers;

namespace Traceability.Faults.Tests;

/// <summary>
/// Faults planted on purpose in the running service and its database: a check that finds nothing wrong must be one that
/// would have found something.
/// </summary>
public sealed class ControlTests : IAsyncLifetime
{
    private readonly string _folder = Directory.CreateTempSubdirectory("trace-controls-").FullName;
    private readonly Credentials _credentials = Credentials.Generate();
    private string _database = "";
    private int _runs;

    private string Journal => Path.Combine(_folder, "intents.jsonl");

    public async Task InitializeAsync()
    {
        var server = new NpgsqlConnectionStringBuilder(await Servers.PostgresAsync());
        var name = "controls_" + Guid.NewGuid().ToString("N");
        await using var connection = new NpgsqlConnection(server.ConnectionString);
        await connection.OpenAsync();
        await using var create = new NpgsqlCommand($"create database {name}", connection);
        await create.ExecuteNonQueryAsync();
        server.Database = name;
        _database = server.ConnectionString;
        _credentials.Save(Path.Combine(_folder, "bootstrap.json"));
    }

    public Task DisposeAsync()
    {
        NpgsqlConnection.ClearAllPools();
        Directory.Delete(_folder, recursive: true);
        return Task.CompletedTask;
    }

    [Fact]
    public async Task Without_a_planted_fault_the_check_finds_nothing()
    {
        await RunAsync();
        Assert.Equal("", Wrong(await CheckAsync()));
    }

    [Fact]
    public async Task A_planted_early_acknowledgement_is_caught()
    {
        await RunAsync(plant: services =>
        {
            services.AddSingleton<EarlyHandover>();
            services.AddSingleton<IHandover>(s => s.GetRequiredService<EarlyHandover>());
        }, until: () => Task.CompletedTask);
        var result = await CheckAsync();
        Assert.Equal(result.Intents, result.Lost.Count(l => l.StartsWith("record ", StringComparison.Ordinal)));
        Assert.NotEqual(0, result.Intents);
    }

    [Fact]
    public async Task A_planted_dropped_leaf_is_caught()
    {
        await RunAsync();
        await DropAsync("trace.log_leaf", "new.index % 7 = 3");
        await RunAsync(until: LeavesAsync);
        var result = await CheckAsync();
        Assert.Contains(result.Lost, l => l.StartsWith("leaf of record ", StringComparison.Ordinal));
        Assert.DoesNotContain(result.Lost, l => l.StartsWith("record ", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("trace.about", "new.subject like 'cage:%'", "link of the record at ")]
    [InlineData("trace.link", "new.from_subject like 'cage:%' and new.to_subject like 'lot:%'", "link cage:")]
    public async Task A_planted_lost_link_is_caught(string table, string lost, string named)
    {
        await RunAsync();
        await DropAsync(table, lost);
        await RunAsync();
        var result = await CheckAsync();
        Assert.NotEmpty(result.Lost);
        Assert.All(result.Lost, l => Assert.StartsWith(named, l, StringComparison.Ordinal));
    }

    /// <summary>Says that facts are safe while they only lie in its own memory, and is stopped before it hands them on.</summary>
    private sealed class EarlyHandover : IHandover
    {
        private readonly List<Received> _memory = [];

        public Task<IReadOnlyList<Outcome>?> HandAsync(IReadOnlyList<Received> entries, CancellationToken cancel)
        {
            lock (_memory) _memory.AddRange(entries);
            return Task.FromResult<IReadOnlyList<Outcome>?>(null);
        }
    }

    /// <summary>Runs the real service in this process, lets the stations send one more story, and stops it.</summary>
    private async Task RunAsync(Action<IServiceCollection>? plant = null, Func<Task>? until = null)
    {
        var run = ++_runs;
        var port = FreePort();
        var settings = new Dictionary<string, string?>
        {
            ["ConnectionStrings:Postgres"] = _database,
            ["Bus"] = "inprocess",
            ["urls"] = $"http://127.0.0.1:{port}",
            ["People:BootstrapFile"] = Path.Combine(_folder, "bootstrap.json"),
            ["Signer:Folder"] = Path.Combine(_folder, "signer"),
            ["Plant:TimeZone"] = PlantStory.Zone,
            ["Signer:Origin"] = "plant.example/controls",
        };
        await using var app = Service.Operations.Host.Build([], builder =>
        {
            builder.Configuration.AddInMemoryCollection(settings);
            if (plant is not null) builder.Host.UseServiceProviderFactory(new Planting(plant));
        });
        await Service.Operations.Host.PrepareAsync(app);
        await app.StartAsync();
        using var client = new ServiceClient(new Uri($"http://127.0.0.1:{port}/"), _credentials);
        using var journal = new Journal(Journal);
        var story = PlantStory.RigidFrame(run, 2, new DateTimeOffset(2026, 3, 2, 0, 0, 0, PlantStory.PlantOffset), key: $"c{run}-");
        var acted = await new Actor(client, journal).PostAsync(story.Facts, run, TimeSpan.Zero, CancellationToken.None);
        Assert.All(acted, a => Assert.True(a.Receipt.IsRecorded || a.Receipt.Status is "received" or "weighing" or "approval", a.Receipt.Status));
        await (until?.Invoke() ?? Settling.WaitAsync(_database, TimeSpan.FromMinutes(2), CancellationToken.None));
        await app.StopAsync();
    }

    // A trigger that lets some rows vanish on their way in: the rest of the pipeline works as ever and sees nothing.
    private async Task DropAsync(string table, string when)
    {
        await using var connection = new NpgsqlConnection(_database);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand($"""
            create function drop_row() returns trigger language plpgsql as 'begin return null; end';
            create trigger drop_row before insert on {table} for each row when ({when}) execute function drop_row();
            """, connection);
        await command.ExecuteNonQueryAsync();
    }

    // With leaves missing nothing ever settles; what counts is that their subscription has passed the last record.
    private async Task LeavesAsync()
    {
        await using var connection = new NpgsqlConnection(_database);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand("""
            select (select max(position) from trace.record) <= (select last_seq_id from marten.mt_event_progression where name like 'LogLeaves%')
            """, connection);
        for (var tries = 0; await command.ExecuteScalarAsync() is not true; tries++)
        {
            Assert.True(tries < 600, "the subscription of the leaves does not get to the last record");
            await Task.Delay(200);
        }
    }

    private Task<CheckResult> CheckAsync() => Ledger.CheckAsync(_database, [Journal], "/service/", CancellationToken.None);

    private static string Wrong(CheckResult result) => string.Join("\n", result.Lost.Concat(result.Unexpected).Concat(result.Duplicated).Concat(result.Differing));

    private static int FreePort()
    {
        using var probe = new TcpListener(IPAddress.Loopback, 0);
        probe.Start();
        return ((IPEndPoint)probe.LocalEndpoint).Port;
    }

    /// <summary>Adds services after all of the service's own, so that the planted one wins.</summary>
    private sealed class Planting(Action<IServiceCollection> plant) : IServiceProviderFactory<IServiceCollection>
    {
        public IServiceCollection CreateBuilder(IServiceCollection services)
        {
            plant(services);
            return services;
        }

        public IServiceProvider CreateServiceProvider(IServiceCollection containerBuilder) => containerBuilder.BuildServiceProvider();
    }
}
