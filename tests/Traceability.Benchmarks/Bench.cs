using System.Diagnostics;
using System.Net.Http.Headers;
using System.Text;
using Marten;
using Microsoft.AspNetCore.Builder;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Linking;
using Traceability.TestServers;
using Host = Traceability.Service.Operations.Host;

namespace Traceability.Benchmarks;

/// <summary>
/// The whole line in one process on real PostgreSQL and RabbitMQ: HTTP batches, queue, recorder with dedupe, links, bytes,
/// log, stale marks and assembler all on. The floor (Marten alone, 100 events a session) runs on the same database in the same run.
/// </summary>
public sealed class Bench : IAsyncDisposable
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    private readonly WebApplication _app;
    private readonly Credentials _credentials;
    private readonly string _folder;
    private readonly HttpClient _http;

    private Bench(WebApplication app, Credentials credentials, string folder)
    {
        (_app, _credentials, _folder) = (app, credentials, folder);
        _http = new HttpClient { BaseAddress = new Uri(app.Urls.First()) };
    }

    private NpgsqlDataSource Database => _app.Services.GetRequiredService<NpgsqlDataSource>();

    public static async Task<Bench> StartAsync()
    {
        var folder = Directory.CreateTempSubdirectory("trace-bench-").FullName;
        var credentials = Credentials.Generate();
        var bootstrap = Path.Combine(folder, "bootstrap.json");
        credentials.Save(bootstrap);
        var server = await Servers.PostgresAsync();
        var name = "bench_" + Guid.NewGuid().ToString("N");
        await using (var admin = NpgsqlDataSource.Create(server))
        {
            await using var create = admin.CreateCommand($"create database {name}");
            await create.ExecuteNonQueryAsync();
        }

        var app = Host.Build([
            "--urls=http://127.0.0.1:0", $"--Plant:TimeZone={PlantStory.Zone}", "--Roles=web,worker,signer", "--Bus=rabbitmq", $"--BusQueue={name}",
            $"--ConnectionStrings:Postgres={new NpgsqlConnectionStringBuilder(server) { Database = name }.ConnectionString}",
            $"--ConnectionStrings:RabbitMq={await Servers.RabbitMqAsync()}", $"--Signer:Folder={Path.Combine(folder, "signer")}", $"--People:BootstrapFile={bootstrap}"]);
        await Host.PrepareAsync(app);
        await app.StartAsync();
        var bench = new Bench(app, credentials, folder);
        await bench.UntilAsync(async () => (await bench._http.GetAsync("/health/ready")).IsSuccessStatusCode);
        return bench;
    }

    /// <summary>One unit's dossier of 150 records, judged from bytes in memory and from the database.</summary>
    public async Task<object> JudgingAsync()
    {
        Console.Error.WriteLine("judging one unit of 150 records");
        var story = PlantStory.RigidFrame(7, 1, PlantStory.StartFor(1, Now), key: "J");
        await SendAsync(story.Facts.Select(f => (f.Device, f.Event)));
        var unit = Subject.Unit(story.Units[0]);
        await DrainedAsync(story.Facts.Count);
        var dossiers = _app.Services.GetRequiredService<DossierStore>();
        var dossier = await dossiers.LoadAsync(unit, null, default);
        // Further facts of its own kinds bring the dossier to 150 records: lots, instruments, people, oilings, probe read-outs.
        var kinds = new[] { typeof(LotReceived), typeof(InstrumentCalibrated), typeof(PersonCertified), typeof(FormOiled), typeof(CureTemperatures) };
        var fillers = story.Facts.Where(f => kinds.Contains(FactCatalog.All[f.Event.Type].Clr)).ToList();
        var more = Enumerable.Range(0, 150 - dossier.Records.Count).Select(i => (fillers[i % fillers.Count].Device, Event: Again(fillers[i % fillers.Count].Event, "more-" + i))).ToList();
        await SendAsync(more);
        await DrainedAsync(story.Facts.Count + more.Count);
        dossier = await dossiers.LoadAsync(unit, null, default);

        var pure = Samples(300, () => { _ = Judge.Dossier(dossier, Now).Findings.Count; return Task.CompletedTask; });
        var hashed = Samples(300, () => { _ = Judge.Dossier(dossier, Now).Hash; return Task.CompletedTask; });
        var fromDatabase = Samples(300, async () => _ = Judge.Dossier(await dossiers.LoadAsync(unit, null, default), Now).Hash);
        return new { records = dossier.Records.Count, findings = Judge.Dossier(dossier, Now).Findings.Count, pureMs = Of(await pure), pureWithHashMs = Of(await hashed), fromDatabaseMs = Of(await fromDatabase) };
    }

    /// <summary>200 facts a second for 30 s, one a request: POST to recorded, and to the unit's row written at or after the record.</summary>
    public async Task<object> LatencyAsync()
    {
        Console.Error.WriteLine("latency at 200 facts a second");
        const int rate = 200, seconds = 30;
        var facts = Load("lat", rate * seconds, 50).ToList();
        var posted = new Dictionary<Guid, long>();
        var before = await CountAsync("select count(*) from trace.record");
        var recorded = new Dictionary<Guid, double>();
        var judged = new List<double>();
        using var stop = new CancellationTokenSource();
        var watching = WatchAsync(posted, recorded, judged, stop.Token);
        var clock = Stopwatch.StartNew();
        var running = new List<Task>();
        for (var i = 0; i < facts.Count; i++)
        {
            var due = TimeSpan.FromSeconds((double)i / rate);
            if (due > clock.Elapsed) await Task.Delay(due - clock.Elapsed);
            lock (posted) posted[facts[i].Event.RecordId] = Stopwatch.GetTimestamp();
            running.Add(PostAsync(facts[i].Device, [facts[i].Event]));
        }

        await Task.WhenAll(running);
        await DrainedAsync(before + facts.Count);
        await Task.Delay(500);
        await stop.CancelAsync();
        await watching;
        return new { rate, seconds, facts = facts.Count, measured = recorded.Count, postToRecordedMs = Of([.. recorded.Values]), postToJudgedUnitMs = Of(judged) };
    }

    /// <summary>How many facts a second go in durably, and how long the last one waits to be recorded and given its leaf.</summary>
    public async Task<object> IntakeAsync()
    {
        const int count = 60_000, perBatch = 200, senders = 4;
        Console.Error.WriteLine("floor: Marten, 100 events a session");
        var floor1 = await FloorAsync(1, 20_000);
        var floor4 = await FloorAsync(4, 40_000);
        Console.Error.WriteLine($"intake of {count} facts");
        // Many units, so that streams are as many as in a plant.
        var facts = Load("in", count, 3000).ToList();
        var before = await CountAsync("select count(*) from trace.record");
        var batches = new Queue<List<CloudEvent>>(facts.Chunk(perBatch).Select(c => c.Select(f => f.Event).ToList()));
        var clock = Stopwatch.StartNew();
        await Task.WhenAll(Enumerable.Range(0, senders).Select(async _ =>
        {
            while (true)
            {
                List<CloudEvent>? batch;
                lock (batches)
                {
                    if (!batches.TryDequeue(out batch)) return;
                }

                await PostAsync(facts[0].Device, batch);
            }
        }));
        var confirmed = clock.Elapsed;
        await UntilAsync(async () => await CountAsync("select count(*) from trace.record") >= before + count);
        var recorded = clock.Elapsed;
        await UntilAsync(async () => await CountAsync("select count(*) from trace.log_leaf") >= before + count);
        var leaves = clock.Elapsed;
        await UntilAsync(async () => await CountAsync("select count(*) from trace.stale_unit") == 0
            && await CountAsync("select min(last_seq_id) from marten.mt_event_progression where name like 'MarkStale%'") >= await CountAsync("select max(position) from trace.record"));
        var assembled = clock.Elapsed;
        var rate = count / recorded.TotalSeconds;
        return new
        {
            facts = count, perBatch, senders, bytesPerFact = facts.Take(1000).Average(f => f.Event.Canonical.Length),
            floorMarten100PerSession1Writer = Math.Round(floor1), floorMarten100PerSession4Writers = Math.Round(floor4),
            confirmedPerSecond = Math.Round(count / confirmed.TotalSeconds), recordedPerSecond = Math.Round(rate),
            ratioToFloor1Writer = Math.Round(rate / floor1, 2), ratioToFloor4Writers = Math.Round(rate / floor4, 2),
            lagOfLeavesAfterLastRecordS = Math.Round((leaves - recorded).TotalSeconds, 2), lagOfUnitsAfterLastRecordS = Math.Round((assembled - recorded).TotalSeconds, 2),
        };
    }

    public async ValueTask DisposeAsync()
    {
        await _app.StopAsync();
        await _app.DisposeAsync();
        _http.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    // The floor: the same store settings, the same kind of events, nothing else.
    private async Task<double> FloorAsync(int writers, int events)
    {
        var schema = "floor_" + Guid.NewGuid().ToString("N")[..8];
        var options = Host.Store(Database);
        options.DatabaseSchemaName = schema;
        options.Events.DatabaseSchemaName = schema;
        using var store = new DocumentStore(options);
        await store.Storage.ApplyAllConfiguredChangesToDatabaseAsync(JasperFx.AutoCreate.CreateOrUpdate);
        async Task WriteAsync(int writer, int many)
        {
            for (var i = 0; i < many; i += 100)
            {
                await using var session = store.LightweightSession();
                for (var n = 0; n < 100; n++) session.Events.Append($"form:{writer}-{(i + n) % 750}", Fact(i + n));
                await session.SaveChangesAsync();
            }
        }

        await WriteAsync(99, 1000);
        var clock = Stopwatch.StartNew();
        await Task.WhenAll(Enumerable.Range(0, writers).Select(w => Task.Run(() => WriteAsync(w, events / writers))));
        return events / clock.Elapsed.TotalSeconds;
    }

    private static CureTemperatures Fact(int n) => new($"P-{n}", "probe-7",
        [new(Now, Core.Quantities.Reading.Of(71.5m)), new(Now.AddMinutes(15), Core.Quantities.Reading.Of(74m)), new(Now.AddMinutes(30), Core.Quantities.Reading.Of(79.5m)), new(Now.AddMinutes(45), Core.Quantities.Reading.Of(84m))]);

    private static IEnumerable<(string Device, CloudEvent Event)> Load(string key, int count, int pours)
    {
        for (var i = 0; i < count; i++)
        {
            var fact = new FormOiled($"F-{i % 40}", $"{key}-U{i % pours}", $"release agent {i}, sprayed and wiped before the cage was set, drums 4 and 5");
            yield return (Plant.FormHall.Device, Event(fact, $"{key}-{i}"));
        }
    }

    private static CloudEvent Event(IFact fact, string id) => CloudEvent.Read(Encoding.UTF8.GetBytes(
        $$"""{"specversion":"1.0","id":"{{id}}","source":"{{Plant.FormHall.Source}}","type":"{{FactCatalog.Of(fact).Type}}","time":"2026-05-04T07:00:00-05:00","datacontenttype":"application/json","person":"{{Plant.FormForeman.Id}}","clockoffsetms":12,"data":{{FactCatalog.Write(fact).GetRawText()}}}"""));

    internal static CloudEvent Again(CloudEvent sent, string id) =>
        CloudEvent.Read(Encoding.UTF8.GetBytes(Encoding.UTF8.GetString(sent.Canonical.Span).Replace($"\"id\":\"{sent.Id}\"", $"\"id\":\"{id}\"", StringComparison.Ordinal)));

    // Reads what arrived in the record table and in the unit rows as it arrives; the times are this process's.
    private async Task WatchAsync(Dictionary<Guid, long> posted, Dictionary<Guid, double> recorded, List<double> judged, CancellationToken stop)
    {
        var position = await CountAsync("select coalesce(max(position), 0) from trace.record");
        var waiting = new Dictionary<string, List<(long Position, long Posted)>>(StringComparer.Ordinal);
        var quiet = 0;
        while (!stop.IsCancellationRequested || quiet++ < 20)
        {
            await using (var command = Database.CreateCommand("select position, id, substring(stream from 6) from trace.record where position > $1 order by position"))
            {
                command.Parameters.Add(new() { Value = position });
                await using var reader = await command.ExecuteReaderAsync(default);
                while (await reader.ReadAsync(default))
                {
                    position = reader.GetInt64(0);
                    long at;
                    lock (posted)
                    {
                        if (!posted.TryGetValue(reader.GetGuid(1), out at)) continue;
                    }

                    recorded[reader.GetGuid(1)] = Stopwatch.GetElapsedTime(at).TotalMilliseconds;
                    if (!waiting.TryGetValue(reader.GetString(2), out var list)) waiting[reader.GetString(2)] = list = [];
                    list.Add((position, at));
                }
            }

            await using (var rows = Database.CreateCommand("select id, (data ->> 'position')::bigint from marten.mt_doc_unitrow"))
            {
                await using var reader = await rows.ExecuteReaderAsync(default);
                while (await reader.ReadAsync(default))
                {
                    if (!waiting.TryGetValue(reader.GetString(0), out var list)) continue;
                    var upTo = reader.GetInt64(1);
                    judged.AddRange(list.Where(w => w.Position <= upTo).Select(w => Stopwatch.GetElapsedTime(w.Posted).TotalMilliseconds));
                    list.RemoveAll(w => w.Position <= upTo);
                }
            }

            await Task.Delay(2, default);
        }
    }

    private async Task SendAsync(IEnumerable<(string Device, CloudEvent Event)> facts)
    {
        foreach (var group in facts.GroupBy(f => f.Device)) await PostAsync(group.Key, [.. group.Select(g => g.Event)]);
    }

    private async Task PostAsync(string device, IReadOnlyList<CloudEvent> events)
    {
        var body = new MemoryStream();
        body.WriteByte((byte)'[');
        for (var i = 0; i < events.Count; i++)
        {
            if (i > 0) body.WriteByte((byte)',');
            body.Write(events[i].Canonical.Span);
        }

        body.WriteByte((byte)']');
        using var request = new HttpRequestMessage(HttpMethod.Post, "/v1/facts") { Content = new ByteArrayContent(body.GetBuffer(), 0, (int)body.Length) };
        request.Content.Headers.ContentType = new MediaTypeHeaderValue("application/cloudevents-batch+json");
        request.Headers.Add("X-Device-Id", device);
        request.Headers.Add("X-Device-Key", _credentials.Device(device).Key);
        using var response = await _http.SendAsync(request);
        response.EnsureSuccessStatusCode();
        var receipts = await response.Content.ReadAsStringAsync();
        if (receipts.Contains("\"refused\"", StringComparison.Ordinal) || receipts.Contains("\"quarantined\"", StringComparison.Ordinal))
            throw new InvalidOperationException("a fact of the load was not taken in: " + receipts[..Math.Min(600, receipts.Length)]);
    }

    private Task DrainedAsync(long records) => UntilAsync(async () =>
        await CountAsync("select count(*) from trace.record") >= records && await CountAsync("select count(*) from trace.stale_unit") == 0
        && await CountAsync("select coalesce(min(last_seq_id), 0) from marten.mt_event_progression where name like 'MarkStale%'") >= await CountAsync("select max(position) from trace.record"));

    private async Task UntilAsync(Func<Task<bool>> condition)
    {
        var limit = Stopwatch.StartNew();
        while (!await condition())
        {
            if (limit.Elapsed > TimeSpan.FromMinutes(3)) throw new TimeoutException("the line did not settle within 3 minutes");
            await Task.Delay(25);
        }
    }

    private async Task<long> CountAsync(string sql)
    {
        await using var command = Database.CreateCommand(sql);
        return Convert.ToInt64(await command.ExecuteScalarAsync(), System.Globalization.CultureInfo.InvariantCulture);
    }

    private static async Task<IReadOnlyList<double>> Samples(int count, Func<Task> action)
    {
        // Long enough for the runtime to have compiled the hot paths for good.
        var warm = Stopwatch.StartNew();
        while (warm.Elapsed < TimeSpan.FromSeconds(4)) await action();
        var samples = new double[count];
        for (var i = 0; i < count; i++)
        {
            var from = Stopwatch.GetTimestamp();
            await action();
            samples[i] = Stopwatch.GetElapsedTime(from).TotalMilliseconds;
        }

        return samples;
    }

    internal static object Of(IReadOnlyCollection<double> values)
    {
        if (values.Count == 0) return new { count = 0 };
        var sorted = values.Order().ToArray();
        double At(double share) => Math.Round(sorted[Math.Min(sorted.Length - 1, (int)(sorted.Length * share))], 3);
        return new { count = sorted.Length, p50 = At(0.50), p95 = At(0.95), p99 = At(0.99), max = Math.Round(sorted[^1], 3) };
    }
}
