using System.Diagnostics;
using System.Globalization;
using System.Net.Http.Headers;
using System.Text.Json;
using System.Text.Json.Nodes;
using Marten;
using Microsoft.AspNetCore.Builder;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.Core.Events;
using Traceability.Core.Quantities;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Recall;
using Traceability.TestServers;
using Host = Traceability.Service.Operations.Host;

namespace Traceability.Benchmarks;

/// <summary>
/// The whole service in one process (bus in-process) over a store of many units, asked over HTTP on loopback: recalls of
/// ten thousand units, and a storm: one fact on a lot that is in twenty thousand.
/// </summary>
public sealed class FilledPlant : IAsyncDisposable
{
    private readonly WebApplication _app;
    private readonly Credentials _credentials;
    private readonly string _folder;
    private readonly HttpClient _http;
    private readonly int _units;
    private readonly Random _random = new(5);

    private FilledPlant(WebApplication app, Credentials credentials, string folder, int units)
    {
        (_app, _credentials, _folder, _units) = (app, credentials, folder, units);
        _http = new HttpClient { BaseAddress = new Uri(app.Urls.First()) };
    }

    private NpgsqlDataSource Database => _app.Services.GetRequiredService<NpgsqlDataSource>();

    public static async Task<FilledPlant> StartAsync(int units)
    {
        var folder = Directory.CreateTempSubdirectory("trace-bench-").FullName;
        var credentials = Credentials.Generate();
        credentials.Save(Path.Combine(folder, "bootstrap.json"));
        var server = await Servers.PostgresAsync();
        var name = "bench_" + Guid.NewGuid().ToString("N");
        await using (var admin = NpgsqlDataSource.Create(server))
        {
            await using var create = admin.CreateCommand($"create database {name}");
            await create.ExecuteNonQueryAsync();
        }

        var app = Host.Build([
            "--urls=http://127.0.0.1:0", $"--Plant:TimeZone={PlantStory.Zone}", "--Roles=web,worker,signer", "--Bus=inprocess",
            $"--ConnectionStrings:Postgres={new NpgsqlConnectionStringBuilder(server) { Database = name }.ConnectionString}",
            $"--Signer:Folder={Path.Combine(folder, "signer")}", $"--People:BootstrapFile={Path.Combine(folder, "bootstrap.json")}"]);
        await Host.PrepareAsync(app);
        Console.Error.WriteLine($"filling a store with {units} units");
        var clock = Stopwatch.StartNew();
        var records = await Filling.RunAsync(app.Services.GetRequiredService<NpgsqlDataSource>(), app.Services.GetRequiredService<IDocumentStore>(), units);
        Console.Error.WriteLine($"{records} records in {clock.Elapsed.TotalSeconds:F0} s");
        await app.StartAsync();
        return new FilledPlant(app, credentials, folder, units);
    }

    public async Task<object> RecallAsync(int samples)
    {
        var heats = Math.Max(1, _units / 10_000);
        var reader = _app.Services.GetRequiredService<RecallReader>();
        var turn = 0;
        var size = 0L;
        var whole = await TimedAsync(samples, async () => size = await GetAsync($"/v1/recall/{Filling.Heat(turn++ % heats)}?limit=100000"));
        var inProcess = await TimedAsync(samples, async () => await reader.UpAsync(Filling.Heat(turn++ % heats), default));
        var part = await TimedAsync(samples, async () => await GetAsync($"/v1/recall/{Filling.Heat(turn++ % heats)}?limit=100"));
        var few = await TimedAsync(samples, async () => await GetAsync($"/v1/recall/lot:mill-b/BULK-S{turn++ % (_units / 500)}"));
        var down = await TimedAsync(samples, async () => await GetAsync($"/v1/recall/unit:{Filling.Serial(_random.Next(_units))}?direction=down"));
        // Something that cannot be assembled waits, so that the index of links is read beside the rows.
        await using (var one = Database.CreateCommand("insert into trace.stale_unit (unit, since_position, priority) values ('no unit', 1, 9)")) await one.ExecuteNonQueryAsync();
        var answer = await reader.UpAsync(Filling.Heat(0), default);
        var byIndex = await TimedAsync(Math.Min(samples, 50), async () => await reader.UpAsync(Filling.Heat(turn++ % heats), default));
        if (answer.Judged) throw new InvalidOperationException("nothing waited, so the index of links was not read");
        return new
        {
            units = _units, rows = await CountAsync("select count(*) from trace.reach"), named = answer.Units.Count, bytes = size,
            wholeListOverHttpMs = Of(whole), wholeListInProcessMs = Of(inProcess), firstHundredOverHttpMs = Of(part), fiveHundredOverHttpMs = Of(few), downOverHttpMs = Of(down), withIndexOfLinksInProcessMs = Of(byIndex),
        };
    }

    public async Task<object> StormAsync()
    {
        var quiet = await TimedAsync(200, () => GateAsync(20_000, _units));
        var lot = Filling.Cement(0);
        var before = await CountAsync("select max(position) from trace.record");
        var clock = Stopwatch.StartNew();
        await PostAsync(Plant.Receiving, Plant.Receiver, "storm-1", new LotCertified(lot, "invented 1", "C150", "20", "I/II", new DateOnly(2026, 3, 1)));
        var posted = clock.Elapsed;
        double? marked = null;
        var stale = 0L;
        var gates = new List<double>();
        var fresh = new List<double>();
        var turn = 0;
        while (true)
        {
            var left = await CountAsync("select count(*) from trace.stale_unit where priority >= 4");
            if (left > stale) (stale, marked) = (left, clock.Elapsed.TotalMilliseconds);
            if (stale > 0 && left == 0) break;
            if (clock.Elapsed > TimeSpan.FromMinutes(20)) throw new TimeoutException("the storm did not end within 20 minutes");
            // Gates of units in the storm and beside it, and now and then a fact on another unit whose row is waited for.
            for (var i = 0; i < 10; i++)
            {
                gates.Add(await OnceAsync(() => GateAsync(turn % 2 == 0 ? 0 : 20_000, turn++ % 2 == 0 ? 20_000 : _units)));
                await Task.Delay(10);
            }

            fresh.Add(await OnceAsync(async () =>
            {
                var unit = Filling.Serial(_random.Next(20_000, _units));
                var at = await PostAsync(Plant.FormHall, Plant.FormForeman, $"oil-{turn}", new FormOiled("F-1", unit, "invented release agent"));
                await using var row = Database.CreateCommand($"select count(*) from marten.mt_doc_unitrow where id = '{unit}' and (data ->> 'position')::bigint >= {at}");
                while ((long)(await row.ExecuteScalarAsync())! == 0) await Task.Delay(5);
            }));
        }

        var ended = clock.Elapsed;
        var missed = await CountAsync($"select count(*) from trace.reach r join trace.unit_card c on c.no = r.unit_no where r.subject = 'lot:{lot.Producer}/{lot.Number}' and c.position <= {before}");
        return new
        {
            units = _units, stormUnits = stale, factRecordedAfterMs = Math.Round(posted.TotalMilliseconds), allMarkedAfterMs = Math.Round(marked ?? 0), drainedAfterS = Math.Round(ended.TotalSeconds, 1),
            assembledPerSecond = Math.Round(stale / ended.TotalSeconds), unitsMissed = missed, gateQuietMs = Of(quiet), gateInStormMs = Of(gates), otherUnitFreshMs = Of(fresh),
        };
    }

    public async ValueTask DisposeAsync()
    {
        await _app.StopAsync();
        await _app.DisposeAsync();
        _http.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    private async Task GateAsync(int from, int to) => await GetAsync("/v1/units/" + Filling.Serial(_random.Next(from, to)));

    private async Task<long> GetAsync(string path)
    {
        using var request = new HttpRequestMessage(HttpMethod.Get, path);
        request.Headers.Add("X-Device-Id", Plant.FormHall.Device);
        request.Headers.Add("X-Device-Key", _credentials.Device(Plant.FormHall.Device).Key);
        using var response = await _http.SendAsync(request);
        response.EnsureSuccessStatusCode();
        return (await response.Content.ReadAsByteArrayAsync()).Length;
    }

    // Answers the position at which the fact was recorded.
    private async Task<long> PostAsync(Station station, Worker person, string id, IFact fact)
    {
        var sent = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new JsonObject
        {
            ["specversion"] = "1.0", ["id"] = id, ["source"] = station.Source, ["type"] = FactCatalog.Of(fact).Type, ["time"] = "2026-05-04T07:00:00.000-05:00", ["person"] = person.Id,
            ["clockoffsetms"] = 12, ["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText()),
        }));
        using var request = new HttpRequestMessage(HttpMethod.Post, "/v1/facts") { Content = new ByteArrayContent(sent.Canonical.ToArray()) };
        request.Content.Headers.ContentType = new MediaTypeHeaderValue("application/cloudevents+json");
        request.Headers.Add("X-Device-Id", station.Device);
        request.Headers.Add("X-Device-Key", _credentials.Device(station.Device).Key);
        using var response = await _http.SendAsync(request);
        response.EnsureSuccessStatusCode();
        return await CountAsync(string.Create(CultureInfo.InvariantCulture, $"select position from trace.record where id = '{sent.RecordId}'"));
    }

    private async Task<long> CountAsync(string sql)
    {
        await using var command = Database.CreateCommand(sql);
        return Convert.ToInt64(await command.ExecuteScalarAsync() ?? throw new InvalidOperationException("a fact of the load was not recorded"), CultureInfo.InvariantCulture);
    }

    private static async Task<double> OnceAsync(Func<Task> action)
    {
        var from = Stopwatch.GetTimestamp();
        await action();
        return Stopwatch.GetElapsedTime(from).TotalMilliseconds;
    }

    private static async Task<IReadOnlyList<double>> TimedAsync(int count, Func<Task> action)
    {
        // Long enough for the runtime to have compiled the hot paths.
        var warm = Stopwatch.StartNew();
        while (warm.Elapsed < TimeSpan.FromSeconds(4)) await action();
        var samples = new double[count];
        for (var i = 0; i < count; i++) samples[i] = await OnceAsync(action);
        return samples;
    }

    private static object Of(IReadOnlyCollection<double> values) => Bench.Of(values);
}
