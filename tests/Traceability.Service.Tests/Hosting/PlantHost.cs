using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.AspNetCore.Builder;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Checking;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Linking;
using Traceability.Service.People;
using Traceability.Service.Operations;
using Traceability.TestServers;

namespace Traceability.Service.Tests.Hosting;

/// <summary>The real service in this process, on a database of its own, over HTTP; with RabbitMQ where asked.</summary>
public sealed class PlantHost : IAsyncDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("trace-host-").FullName;
    private readonly List<WebApplication> _apps = [];
    private readonly string _name = "t_" + Guid.NewGuid().ToString("N");
    private readonly string _server;
    private readonly string? _broker;
    private bool _asGiven;

    // Hashing must not cost seconds for each of hundreds of hosts; what it costs in a plant is no setting, and has a test of its own.
    private static readonly SecretCost s_cheap = new(1000);

    private PlantHost(string server, string? broker)
    {
        _server = server;
        _broker = broker;
        Credentials.Save(BootstrapFile);
    }

    public Credentials Credentials { get; } = Credentials.Generate();

    public string ConnectionString => new NpgsqlConnectionStringBuilder(_server) { Database = _name }.ConnectionString;

    public string Folder => _folder;

    public Uri Address { get; private set; } = null!;

    /// <summary>Every part's own address.</summary>
    public IReadOnlyList<Uri> Addresses => [.. _apps.Select(a => new Uri(a.Urls.First()))];

    /// <summary>The process part that was started first.</summary>
    public WebApplication App => _apps[0];

    public IServiceProvider Services => App.Services;

    public NpgsqlDataSource Database => Services.GetRequiredService<NpgsqlDataSource>();

    private string BootstrapFile => Path.Combine(_folder, "bootstrap.json");

    /// <summary>Everything in one process, bus in-process.</summary>
    public static Task<PlantHost> StartAsync(params string[] settings) => StartAsync(false, ["web,worker,signer"], settings);

    /// <summary>Everything in one process, where people still have the first passwords of the bootstrap file.</summary>
    public static async Task<PlantHost> StartAsGivenAsync()
    {
        var host = new PlantHost(await Servers.PostgresAsync(), null) { _asGiven = true };
        await host.AdminAsync($"create database {host._name}");
        await host.AddAsync("web,worker,signer");
        return host;
    }

    /// <param name="rabbit">Whether facts go over RabbitMQ, through a queue of this host's own.</param>
    /// <param name="parts">Roles of each part; parts are separate hosts on one database.</param>
    public static async Task<PlantHost> StartAsync(bool rabbit, string[] parts, params string[] settings)
    {
        var host = new PlantHost(await Servers.PostgresAsync(), rabbit ? await Servers.RabbitMqAsync() : null);
        await host.AdminAsync($"create database {host._name}");
        foreach (var roles in parts) await host.AddAsync(roles, settings);
        return host;
    }

    /// <summary>Starts a further part on the same database and bus.</summary>
    public Task<WebApplication> AddAsync(string roles, params string[] settings) => AddAsync(roles, _ => { }, settings);

    /// <param name="more">What a test adds to the part.</param>
    public async Task<WebApplication> AddAsync(string roles, Action<WebApplicationBuilder> more, params string[] settings)
    {
        var app = Service.Operations.Host.Build([
            "--urls=http://127.0.0.1:0", $"--Roles={roles}", $"--Bus={(_broker is null ? "inprocess" : "rabbitmq")}", $"--BusQueue={_name}",
            $"--ConnectionStrings:Postgres={ConnectionString}", $"--ConnectionStrings:RabbitMq={_broker}",
            $"--Signer:Folder={Path.Combine(_folder, "signer")}", "--Signer:Origin=test.example/log", $"--Plant:TimeZone={PlantStory.Zone}", $"--People:BootstrapFile={BootstrapFile}", .. settings], b =>
            {
                b.Services.AddSingleton(s_cheap);
                more(b);
            });
        await Service.Operations.Host.PrepareAsync(app);
        await app.StartAsync();
        _apps.Add(app);
        if (!_asGiven && app.Services.GetService<Register>() is { } register) await ChooseOwnAsync(register);
        if (roles.Contains("web", StringComparison.Ordinal)) Address = new Uri(app.Urls.First());
        return app;
    }

    // As everybody does once in a plant: own passwords and PINs in the place of the first ones.
    private async Task ChooseOwnAsync(Register register)
    {
        var own = Credentials.People.Where(p => register.Person(p.Id) is { PinIsGiven: true }).Select(p => (object)register.NewPerson(p.Id, p.DisplayName, p.Password, p.Pin, p.Roles)).ToList();
        if (own.Count > 0) await register.SaveAsync(own, CancellationToken.None);
    }

    public async Task StopAsync(WebApplication app)
    {
        _apps.Remove(app);
        await app.StopAsync();
        await app.DisposeAsync();
    }

    /// <summary>Stops the process part that was started last.</summary>
    public Task StopLastAsync() => StopAsync(_apps[^1]);

    public ServiceClient Stations() => new(Address, Credentials);

    /// <summary>An HTTP client with the session of a person.</summary>
    public async Task<HttpClient> SignInAsync(Worker worker)
    {
        var client = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = Address };
        var person = Credentials.Person(worker.Id);
        (await client.PostAsJsonAsync("/v1/sign-in", new { person = person.Id, password = person.Password })).EnsureSuccessStatusCode();
        return client;
    }

    public HttpRequestMessage DeviceRequest(HttpMethod method, string path, string device, HttpContent? content = null)
    {
        var request = new HttpRequestMessage(method, new Uri(Address, path)) { Content = content };
        request.Headers.Add("X-Device-Id", device);
        request.Headers.Add("X-Device-Key", Credentials.Device(device).Key);
        return request;
    }

    /// <summary>Sends facts one request an event, in the order given, each until it is safe.</summary>
    public async Task SendAsync(IEnumerable<StoryFact> facts)
    {
        using var stations = Stations();
        foreach (var run in Runs(facts)) await stations.SendAsync(run[0].Device, run.ConvertAll(f => f.Event), CancellationToken.None);
        await ApproveWaitingAsync();
    }

    /// <summary>Waits until every restatement is weighed, and has the deputy approve those that need a second person. Where no part weighs, none is waited for.</summary>
    public async Task ApproveWaitingAsync()
    {
        if (!_apps.Exists(a => a.Services.GetServices<Microsoft.Extensions.Hosting.IHostedService>().Any(s => s is Service.Decisions.Weigher))) return;
        // A restatement whose record has not come yet waits for that.
        await EventuallyAsync(async () => await ScalarAsync("select count(*) from trace.quarantine where " + Settling.Weighed) == 0, "everything weighed");
        if (await ScalarAsync("select count(*) from trace.quarantine where cleared_at is null and waits_for = 'second'") == 0) return;
        using var deputy = new Session(Address, Credentials.Person(Plant.DeputyEngineer.Id));
        await SecondPerson.ApproveAsync(deputy, CancellationToken.None);
    }

    // Neighbours of one device go in one batch, as a station with an outbox sends them.
    private static IEnumerable<List<StoryFact>> Runs(IEnumerable<StoryFact> facts)
    {
        List<StoryFact> run = [];
        foreach (var fact in facts)
        {
            if (run.Count > 0 && (run[0].Device != fact.Device || run.Count == 50))
            {
                yield return run;
                run = [];
            }

            run.Add(fact);
        }

        if (run.Count > 0) yield return run;
    }

    /// <summary>Waits until everything recorded is marked, assembled and given its leaf.</summary>
    public async Task SettleAsync(long records)
    {
        var seen = 0L;
        try
        {
            await EventuallyAsync(async () => (seen = await ScalarAsync("select count(*) from trace.record")) >= records, $"{records} records");
        }
        catch (TimeoutException e)
        {
            throw new TimeoutException($"{e.Message}; {seen} recorded, {await ScalarAsync("select count(*) from trace.quarantine")} quarantined, {await ScalarAsync("select count(*) from trace.parked")} parked", e);
        }

        await EventuallyAsync(async () => await ScalarAsync("select count(*) from trace.record r where not exists (select from trace.log_leaf l where l.record_id = r.id)") == 0
            && await ScalarAsync("select coalesce(min(last_seq_id), 0) from marten.mt_event_progression where name like 'MarkStale%'") >= await ScalarAsync("select max(position) from trace.record")
            && await ScalarAsync("select count(*) from trace.stale_unit") == 0, "nothing stale");
    }

    public static async Task EventuallyAsync(Func<Task<bool>> condition, string what, int seconds = 60)
    {
        var until = Environment.TickCount64 + seconds * 1000L;
        while (!await condition())
        {
            if (Environment.TickCount64 > until) throw new TimeoutException($"not reached within {seconds} s: {what}");
            await Task.Delay(50);
        }
    }

    /// <summary>One text of the database.</summary>
    public async Task<string> TextAsync(string sql)
    {
        await using var command = Database.CreateCommand(sql);
        return (string)(await command.ExecuteScalarAsync() ?? "");
    }

    public async Task<long> ScalarAsync(string sql)
    {
        await using var command = Database.CreateCommand(sql);
        return Convert.ToInt64(await command.ExecuteScalarAsync());
    }

    public async Task ExecuteAsync(string sql)
    {
        await using var command = Database.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }

    public Task<Dossier> DossierAsync(string unit, long? position = null) =>
        Services.GetRequiredService<DossierStore>().LoadAsync(Subject.Unit(unit), position, CancellationToken.None);

    public async Task<Judgement> JudgeAsync(string unit, DateTimeOffset at, long? position = null) => Judge.Dossier(await DossierAsync(unit, position), at);

    public async Task<JsonElement> GetAsync(string path, string device = "office-1")
    {
        using var http = new HttpClient();
        using var response = await http.SendAsync(DeviceRequest(HttpMethod.Get, path, device));
        response.EnsureSuccessStatusCode();
        return await response.Content.ReadFromJsonAsync<JsonElement>();
    }

    private async Task AdminAsync(string sql)
    {
        await using var connection = new NpgsqlConnection(_server);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }

    public async ValueTask DisposeAsync()
    {
        foreach (var app in _apps.ToList()) await StopAsync(app);
        NpgsqlConnection.ClearAllPools();
        await AdminAsync($"drop database if exists {_name} with (force)");
        Directory.Delete(_folder, recursive: true);
    }
}
