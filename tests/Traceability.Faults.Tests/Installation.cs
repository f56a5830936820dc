using Traceability.PlantSimulator.Story;
using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Checking;
using Traceability.TestServers;

namespace Traceability.Faults.Tests;

/// <summary>
/// The service as it is installed, web and worker as processes of their own, with servers of their own: everything in it
/// can be killed without asking and started again on the same data.
/// </summary>
public sealed class Installation : IAsyncDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(3);

    private readonly string _folder = Directory.CreateTempSubdirectory("trace-faults-").FullName;
    private readonly Dictionary<string, Process> _processes = [];
    private readonly Dictionary<string, int> _ports = [];
    private readonly List<string> _journals = [];

    private string? _authority;

    private Installation()
    {
    }

    public Credentials Credentials { get; } = Credentials.Generate();

    /// <summary>An Npgsql connection string.</summary>
    public string Database { get; private set; } = "";

    /// <summary>An amqp:// or amqps:// address.</summary>
    public string Broker { get; private set; } = "";

    public Uri Web => new($"http://127.0.0.1:{_ports["web"]}/");

    /// <summary>Kills so far, by what was killed.</summary>
    public Dictionary<string, int> Kills { get; } = [];

    public static Task<Installation> StartAsync() => StartAsync(null);

    /// <param name="authority">Whose certificates the servers show, for 127.0.0.1; they take encrypted connections alone. Null for servers without encryption.</param>
    public static async Task<Installation> StartAsync(TestAuthority? authority)
    {
        var made = new Installation();
        try
        {
            // The servers' own users must be able to enter.
            if (!OperatingSystem.IsWindows())
                File.SetUnixFileMode(made._folder, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute | UnixFileMode.GroupExecute | UnixFileMode.OtherExecute);
            authority?.SaveServer(made.At("tls"), "127.0.0.1");
            await made.ServersAsync("up");
            made.Database = made.Variable("TRACE_TEST_POSTGRES") + (authority is null ? "" : $";SSL Mode=VerifyFull;Root Certificate={authority.Save(made.At("authority.crt"))}");
            made.Broker = made.Variable("TRACE_TEST_RABBITMQ");
            made._authority = authority is null ? null : made.At("authority.crt");
            made.Credentials.Save(made.At("bootstrap.json"));
            made._ports["web"] = FreePort();
            made._ports["worker"] = FreePort();
            made.Start("web");
            made.Start("worker");
            await made.ReadyAsync();
            // Before anything is broken: who decides something signs on with own secrets.
            await OwnSecrets.ChooseAllAsync(made.Web, made.Credentials, CancellationToken.None);
            return made;
        }
        catch
        {
            await made.DisposeAsync();
            throw;
        }
    }

    public string At(string file) => Path.Combine(_folder, file);

    /// <summary>A journal of intents that the check reads.</summary>
    public Journal NewJournal(string name)
    {
        _journals.Add(At(name + ".jsonl"));
        return new Journal(_journals[^1]);
    }

    public ServiceClient Client() => new(Web, Credentials, TimeSpan.FromSeconds(10));

    /// <summary>kill -9 of web, worker, postgres or rabbitmq.</summary>
    public async Task KillAsync(string what)
    {
        Kills[what] = Kills.GetValueOrDefault(what) + 1;
        if (_processes.TryGetValue(what, out var process))
        {
            process.Kill(entireProcessTree: true);
            await process.WaitForExitAsync();
        }
        else
        {
            await ServersAsync("kill", what);
        }
    }

    /// <summary>Sets the broker's memory alarm, so that it takes nothing, or ends it.</summary>
    public Task AlarmAsync(bool on) => ServersAsync("alarm", on ? "on" : "off");

    /// <summary>A reading of a station, to be posted.</summary>
    public HttpRequestMessage OneFact()
    {
        var request = new HttpRequestMessage(HttpMethod.Post, "v1/facts")
        {
            Content = new StringContent("""{"specversion":"1.0","id":"one-1","source":"/plant/form-1","type":"form.oiled.v1","time":"2026-03-02T09:30:00-05:00","data":{"form":"F-1","unit":"ONE-1","releaseAgent":"A"}}"""),
        };
        request.Content.Headers.ContentType = new("application/cloudevents+json");
        request.Headers.Add("X-Device-Id", "form-1");
        request.Headers.Add("X-Device-Key", Credentials.Device("form-1").Key);
        return request;
    }

    public async Task HealAsync(string what)
    {
        if (_processes.ContainsKey(what)) Start(what);
        else await ServersAsync("start", what);
    }

    /// <summary>Starts again what ended by itself, as a supervisor would.</summary>
    public void Supervise()
    {
        foreach (var name in _processes.Where(p => p.Value.HasExited).Select(p => p.Key).ToList()) Start(name);
    }

    public async Task ReadyAsync()
    {
        using var client = Client();
        var began = Stopwatch.GetTimestamp();
        while (!await client.IsReadyAsync(CancellationToken.None))
        {
            Supervise();
            if (Stopwatch.GetElapsedTime(began) > Patience) throw new TimeoutException($"the service is not ready after {Patience}\n{Logs()}");
            await Task.Delay(200);
        }
    }

    /// <summary>Waits until what was sent has gone through everything, then holds the store against the journals.</summary>
    public async Task<CheckResult> DrainAndCheckAsync()
    {
        var began = Stopwatch.GetTimestamp();
        while (true)
        {
            Supervise();
            try
            {
                await Settling.WaitAsync(Database, Patience, CancellationToken.None);
                var result = await Ledger.CheckAsync(Database, _journals, "/service/", CancellationToken.None);
                // Facts may still wait in the broker; what is wrong for good stays wrong.
                if (result.IsGood || Stopwatch.GetElapsedTime(began) > Patience) return result;
            }
            catch (Npgsql.NpgsqlException) when (Stopwatch.GetElapsedTime(began) < Patience)
            {
                // The server is still recovering from its crash.
            }
            catch (TimeoutException e)
            {
                throw new TimeoutException($"{e.Message}\n{Logs()}", e);
            }

            await Task.Delay(300);
        }
    }

    /// <summary>The end of every log, for a failure's message.</summary>
    public string Logs() => string.Join("\n", Directory.GetFiles(_folder, "*.log").Order(StringComparer.Ordinal)
        .Select(f => $"--- {Path.GetFileName(f)}\n{string.Join("\n", File.ReadLines(f).TakeLast(8).Select(l => l.Length > 600 ? l[..600] : l))}"));

    public async ValueTask DisposeAsync()
    {
        foreach (var process in _processes.Values)
        {
            if (!process.HasExited) process.Kill(entireProcessTree: true);
            await process.WaitForExitAsync();
            process.Dispose();
        }

        await ServersAsync("remove");
        Directory.Delete(_folder, recursive: true);
    }

    /// <summary>One more process of a role beside the others, with other settings. Ended with the installation.</summary>
    /// <returns>Its address; what it says goes into a log that <see cref="Said"/> reads.</returns>
    public Uri StartBeside(string name, string role, params (string Name, string Value)[] settings)
    {
        _ports[name] = FreePort();
        _processes[name] = Begin(name, role, settings);
        return AddressOf(name);
    }

    public Uri AddressOf(string name) => new($"http://127.0.0.1:{_ports[name]}/");

    /// <summary>The code with which a process ends by itself.</summary>
    public async Task<int> EndAsync(string name, TimeSpan patience)
    {
        await _processes[name].WaitForExitAsync().WaitAsync(patience);
        var code = _processes[name].ExitCode;
        _processes.Remove(name);
        return code;
    }

    /// <summary>What a process wrote.</summary>
    public string Said(string name) => File.ReadAllText(At($"{name}.log"));

    private void Start(string role)
    {
        if (_processes.TryGetValue(role, out var before)) before.Dispose();
        _processes[role] = Begin(role, role, []);
    }

    private Process Begin(string name, string role, (string Name, string Value)[] settings)
    {
        var log = At($"{name}.log");
        // The shell only joins the output to the log and is replaced by the service at once, so that the kill hits the service itself.
        var start = new ProcessStartInfo("/bin/sh", ["-c", $"exec \"$0\" >>\"$1\" 2>&1", Program, log]);
        start.Environment["Roles"] = role == "web" ? "web" : "worker,signer";
        start.Environment["Bus"] = "rabbitmq";
        start.Environment["ConnectionStrings__Postgres"] = Database;
        start.Environment["ConnectionStrings__RabbitMq"] = Broker;
        if (_authority is not null) start.Environment["RabbitMq__Authority"] = _authority;
        start.Environment["ASPNETCORE_URLS"] = $"http://127.0.0.1:{_ports[name]}";
        start.Environment["People__BootstrapFile"] = At("bootstrap.json");
        start.Environment["People__CopyFile"] = At($"people-{name}/copy.json");
        start.Environment["Signer__Folder"] = At("signer");
        start.Environment["Signer__Origin"] = "plant.example/faults";
        start.Environment["Plant__TimeZone"] = PlantStory.Zone;
        start.Environment["LOG_LEVEL"] = "Warning";
        start.Environment["DOTNET_gcServer"] = "0";
        start.Environment["DOTNET_TieredPGO"] = "0";
        foreach (var (setting, value) in settings) start.Environment[setting] = value;
        return Process.Start(start)!;
    }

    // The service of the same configuration (Debug, Release) as the tests.
    private static string Program { get; } = Path.Combine(Servers.Root, "src", "Traceability.Service", "bin",
        new DirectoryInfo(AppContext.BaseDirectory).Parent!.Name, new DirectoryInfo(AppContext.BaseDirectory).Name, "traceability");

    private string Variable(string name)
    {
        var prefix = $"export {name}='";
        return File.ReadLines(At("env")).Single(l => l.StartsWith(prefix, StringComparison.Ordinal))[prefix.Length..^1];
    }

    private async Task ServersAsync(string command, params string[] server)
    {
        var start = new ProcessStartInfo(Path.Combine(Servers.Root, "ops", "servers"), [command, _folder, .. server]) { RedirectStandardError = true };
        using var process = Process.Start(start)!;
        var said = await process.StandardError.ReadToEndAsync();
        await process.WaitForExitAsync();
        if (process.ExitCode != 0) throw new InvalidOperationException($"ops/servers {command} {string.Join(' ', server)} failed: {said}");
    }

    private static int FreePort()
    {
        using var probe = new TcpListener(IPAddress.Loopback, 0);
        probe.Start();
        return ((IPEndPoint)probe.LocalEndpoint).Port;
    }
}
