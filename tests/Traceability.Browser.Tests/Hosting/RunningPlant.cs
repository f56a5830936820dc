using System.Diagnostics;
using System.Net;
using System.Net.Http.Json;
using System.Net.Sockets;
using System.Reflection;
using System.Text.Json;
using Npgsql;
using Traceability.Core.Events;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;
using Traceability.TestServers;

namespace Traceability.Browser.Tests.Hosting;

/// <summary>
/// The service as a process of its own on a real database, serving the published kiosk, with the office's and receiving's facts of
/// an invented plant recorded: units are scheduled and steel is in the rack, no cage is tied.
/// </summary>
public sealed class RunningPlant : IAsyncLifetime
{
    private readonly string _folder = Directory.CreateTempSubdirectory("trace-browser-").FullName;
    private readonly string _database = "browser_" + Guid.NewGuid().ToString("N");
    private readonly int _port = FreePort();
    private readonly StreamWriter _log;
    private string _server = "";
    private Process? _process;

    public RunningPlant() => _log = new StreamWriter(Path.Combine(Screens, "service.log")) { AutoFlush = true };

    public Credentials Credentials { get; } = Credentials.Generate();

    public Uri Address => new($"http://127.0.0.1:{_port}/");

    public Uri Kiosk => new(Address, "kiosk/");

    public string Folder => _folder;

    /// <summary>Units of the story, each free for one test.</summary>
    public IReadOnlyList<string> Units { get; private set; } = [];

    /// <summary>Where tests leave their pictures.</summary>
    public static string Screens { get; } = Directory.CreateDirectory(Path.Combine(Servers.Root, ".data", "screens")).FullName;

    private static string KioskFiles => Path.Combine(Servers.Root, ".data", "kiosk", "wwwroot");

    private static string Executable
    {
        get
        {
            var configuration = typeof(RunningPlant).Assembly.GetCustomAttributes<AssemblyMetadataAttribute>().Single(a => a.Key == "Configuration").Value!;
            return Path.Combine(Servers.Root, "src", "Traceability.Service", "bin", configuration, "net10.0", "traceability");
        }
    }

    public async Task InitializeAsync()
    {
        if (!File.Exists(Path.Combine(KioskFiles, "index.html")))
            throw new InvalidOperationException("The kiosk is not published: run ops/test browser, or dotnet publish src/Traceability.Kiosk -c Release -o .data/kiosk.");
        _server = await Servers.PostgresAsync();
        await AdminAsync($"create database {_database}");
        Credentials.Save(Path.Combine(_folder, "bootstrap.json"));
        await StartAsync();

        await OwnSecrets.ChooseAllAsync(Address, Credentials, CancellationToken.None);

        // The story begins three days ago, so that today is before its first pour; certificates and calibrations hold.
        var story = PlantStory.RigidFrame(seed: 7, units: 8, start: TimeProvider.System.GetUtcNow().AddDays(-3));
        Units = story.Units;
        using var stations = new ServiceClient(Address, Credentials);
        var before = story.Facts.Where(f => FactCatalog.All[f.Event.Type].Clr is var type
            && (type == typeof(ProfilePublished) || type == typeof(ContractOpened) || type == typeof(DrawingApproved) || type == typeof(MixApproved)
                || type == typeof(UnitScheduled) || type == typeof(LotReceived) || type == typeof(LotCertified)
                || type == typeof(PersonCertified) || type == typeof(InstrumentCalibrated)));
        foreach (var device in before.GroupBy(f => f.Device))
            await stations.RecordAsync(device.Key, device.Select(f => f.Event).ToList(), CancellationToken.None);
        await EventuallyAsync(async () => (await GetAsync("/v1/kiosk/units")).GetArrayLength() == Units.Count, "every unit is listed for kiosks");
    }

    public async Task StartAsync()
    {
        _process = Begin(Address);
        await ReadyAsync(Address, _process);
    }

    /// <summary>Starts one more process of the service's web part on the same database, with settings of its own; it ends when disposed.</summary>
    public async Task<BesideIt> StartBesideAsync(params (string Name, string Value)[] settings)
    {
        var address = new Uri($"http://127.0.0.1:{FreePort()}/");
        var process = Begin(address, [("Roles", "web"), .. settings]);
        await ReadyAsync(address, process);
        return new BesideIt(address, process);
    }

    public sealed record BesideIt(Uri Address, Process Process) : IDisposable
    {
        public void Dispose()
        {
            Process.Kill();
            Process.WaitForExit();
            Process.Dispose();
        }
    }

    private Process Begin(Uri address, params (string Name, string Value)[] settings)
    {
        var start = new ProcessStartInfo(Executable) { RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (var (name, value) in new Dictionary<string, string>
        {
            ["ASPNETCORE_URLS"] = address.ToString().TrimEnd('/'),
            ["ConnectionStrings__Postgres"] = ConnectionString,
            ["People__BootstrapFile"] = Path.Combine(_folder, "bootstrap.json"),
            ["Signer__Folder"] = Path.Combine(_folder, "signer"),
            ["Plant__TimeZone"] = PlantStory.Zone,
            ["Signer__Origin"] = "browser.example/log",
            ["Kiosk__Root"] = KioskFiles,
        })
        {
            start.Environment[name] = value;
        }

        foreach (var (name, value) in settings) start.Environment[name] = value;
        var process = Process.Start(start)!;
        process.OutputDataReceived += (_, line) => Write(line.Data);
        process.ErrorDataReceived += (_, line) => Write(line.Data);
        process.BeginOutputReadLine();
        process.BeginErrorReadLine();
        return process;
    }

    private static async Task ReadyAsync(Uri address, Process process)
    {
        using var http = new HttpClient { BaseAddress = address };
        await EventuallyAsync(async () =>
        {
            if (process.HasExited) throw new InvalidOperationException($"The service ended with code {process.ExitCode}; see {Screens}/service.log.");
            try
            {
                using var answer = await http.GetAsync("/health/ready");
                return answer.IsSuccessStatusCode;
            }
            catch (HttpRequestException)
            {
                return false;
            }
        }, "the service is ready");
    }

    /// <summary>Ends the service at once, without a chance to finish anything.</summary>
    public async Task KillAsync()
    {
        _process!.Kill();
        await _process.WaitForExitAsync();
        _process.Dispose();
        _process = null;
    }

    /// <summary>A code that enrols one kiosk, made by the administrator.</summary>
    public async Task<string> EnrolmentCodeAsync(params string[] roles)
    {
        using var http = await SignInAsync(Plant.Administrator);
        using var answer = await http.PostAsJsonAsync("/v1/devices/codes", new { roles });
        answer.EnsureSuccessStatusCode();
        return (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("code").GetString()!;
    }

    /// <summary>The administrator ends all roles of a person.</summary>
    public async Task EndRolesAsync(Worker worker)
    {
        using var http = await SignInAsync(Plant.Administrator);
        (await http.PostAsJsonAsync($"/v1/people/{worker.Id}/lapse", new { pin = Credentials.Person(Plant.Administrator.Id).Pin })).EnsureSuccessStatusCode();
    }

    public async Task<HttpClient> SignInAsync(Worker worker)
    {
        var http = new HttpClient { BaseAddress = Address };
        var person = Credentials.Person(worker.Id);
        (await http.PostAsJsonAsync("/v1/sign-in", new { person = person.Id, password = person.Password })).EnsureSuccessStatusCode();
        return http;
    }

    public async Task<JsonElement> GetAsync(string path) => JsonDocument.Parse(await GetBytesAsync(path)).RootElement;

    /// <summary>Reads as the office's device.</summary>
    public async Task<byte[]> GetBytesAsync(string path)
    {
        using var http = new HttpClient { BaseAddress = Address };
        http.DefaultRequestHeaders.Add("X-Device-Id", Plant.Office.Device);
        http.DefaultRequestHeaders.Add("X-Device-Key", Credentials.Device(Plant.Office.Device).Key);
        return await http.GetByteArrayAsync(path);
    }

    /// <summary>Rows of the store, as text.</summary>
    public async Task<List<string[]>> RowsAsync(string sql)
    {
        await using var connection = new NpgsqlConnection(ConnectionString);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection);
        await using var reader = await command.ExecuteReaderAsync();
        var rows = new List<string[]>();
        while (await reader.ReadAsync()) rows.Add([.. Enumerable.Range(0, reader.FieldCount).Select(i => reader.IsDBNull(i) ? "" : reader.GetValue(i).ToString()!)]);
        return rows;
    }

    public static async Task EventuallyAsync(Func<Task<bool>> condition, string what, int seconds = 60)
    {
        var until = Environment.TickCount64 + seconds * 1000L;
        while (!await condition())
        {
            if (Environment.TickCount64 > until) throw new TimeoutException($"not reached within {seconds} s: {what}");
            await Task.Delay(100);
        }
    }

    public async Task DisposeAsync()
    {
        if (_process is not null) await KillAsync();
        NpgsqlConnection.ClearAllPools();
        await AdminAsync($"drop database if exists {_database} with (force)");
        Directory.Delete(_folder, recursive: true);
        await _log.DisposeAsync();
    }

    public string ConnectionString => new NpgsqlConnectionStringBuilder(_server) { Database = _database }.ConnectionString;

    private void Write(string? line)
    {
        lock (_log) _log.WriteLine(line);
    }

    private async Task AdminAsync(string sql)
    {
        await using var connection = new NpgsqlConnection(_server);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }

    private static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }
}

[CollectionDefinition(Name)]
public sealed class PlantCollection : ICollectionFixture<RunningPlant>
{
    public const string Name = "a running plant";
}
