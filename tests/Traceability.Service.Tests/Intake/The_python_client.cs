using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using Traceability.Core.Tests;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Intake;

/// <summary>The client that docs/integrate.md offers, run as a program of its own against the service: nothing is lost, nothing doubled, nothing refused in silence.</summary>
public sealed class The_python_client : IDisposable
{
    private const string Reading = """{"form":"F-1","unit":"PY-1","releaseAgent":"A"}""", Lacking = """{"form":"F-1","unit":"PY-1"}""";
    private const int Recorded = 0, Refused = 1, Away = 75;

    private readonly string _folder = Directory.CreateTempSubdirectory("trace-python-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task A_reading_is_recorded_with_the_offset_of_the_stations_clock()
    {
        await using var host = await PlantHost.StartAsync();
        var sent = await RunAsync(host, host.Address, "c-1", Reading);

        Assert.True(sent.Exit == Recorded, sent.Error);
        Assert.Equal("c-1 recorded\n", sent.Out);
        Assert.Equal(["c-1"], await IdsAsync(host));
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.record where abs((convert_from(bytes, 'UTF8')::jsonb->'fact'->>'clockoffsetms')::bigint) < 60000"));
    }

    [Fact]
    public async Task What_it_could_not_send_while_the_service_was_down_is_kept_and_sent_later_in_order()
    {
        await using var host = await PlantHost.StartAsync();
        var gone = host.Address;
        await host.StopLastAsync();
        foreach (var id in new[] { "d-1", "d-2" })
        {
            var away = await RunAsync(host, gone, id, Reading, "--patience", "1");
            Assert.True(away.Exit == Away, away.Error);
            Assert.Contains("Given up for now: ", away.Error, StringComparison.Ordinal);
            Assert.Contains($"{id} is kept in outbox.db.", away.Error, StringComparison.Ordinal);
        }

        await host.AddAsync("web,worker,signer");
        var later = await RunAsync(host, host.Address, "d-3", Reading);

        Assert.True(later.Exit == Recorded, later.Error);
        Assert.Equal(["d-1", "d-2", "d-3"], await IdsAsync(host));
    }

    [Fact]
    public async Task Sent_again_after_a_503_and_after_a_lost_answer_the_same_bytes_are_recorded_once()
    {
        const int retryAfter = 3;
        await using var host = await PlantHost.StartAsync();
        var attempts = new List<(byte[] Body, long At)>();
        await using var between = await BetweenAsync(host, async (http, body, ask) =>
        {
            if (http.Request.Path != "/v1/facts") return await ask();
            attempts.Add((body, TimeProvider.System.GetTimestamp()));
            if (attempts.Count == 1)
            {
                http.Response.Headers.RetryAfter = $"{retryAfter}";
                return (503, "{}");
            }

            var answer = await ask();
            // Recorded, and the line goes down before the station hears of it.
            if (attempts.Count == 2) http.Abort();
            return answer;
        });
        var sent = await RunAsync(host, new Uri(between.Urls.First()), "s-1", Reading);

        Assert.True(sent.Exit == Recorded, sent.Error);
        Assert.Equal(3, attempts.Count);
        Assert.All(attempts, a => Assert.Equal(attempts[0].Body, a.Body));
        Assert.True(TimeProvider.System.GetElapsedTime(attempts[0].At, attempts[1].At) >= TimeSpan.FromSeconds(retryAfter), "it did not wait as long as Retry-After said");
        Assert.Equal(["s-1"], await IdsAsync(host));
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.record where conflict_of is not null"));
    }

    [Fact]
    public async Task A_station_that_lost_what_it_knew_after_sending_sends_again_and_doubles_nothing()
    {
        await using var host = await PlantHost.StartAsync();
        await RunAsync(host, host.Address, "l-0", Reading);
        var outbox = Path.Combine(_folder, "outbox.db");
        await RunAsync(host, new Uri("http://127.0.0.1:1"), "l-1", Reading, "--patience", "0");
        File.Copy(outbox, outbox + ".before");
        Assert.Equal(Recorded, (await RunAsync(host, host.Address, "l-1", Reading)).Exit);

        File.Move(outbox + ".before", outbox, overwrite: true);
        var again = await RunAsync(host, host.Address, "l-1", Reading);

        Assert.True(again.Exit == Recorded, again.Error);
        Assert.Equal(["l-0", "l-1"], await IdsAsync(host));
    }

    [Fact]
    public async Task A_refused_fact_is_told_and_kept_aside_and_those_after_it_go_on()
    {
        await using var host = await PlantHost.StartAsync();
        var gone = new Uri("http://127.0.0.1:1");
        await RunAsync(host, gone, "r-1", Lacking, "--patience", "0");
        // Nested so deep that the service cannot split the batch it comes in.
        await RunAsync(host, gone, "r-2", string.Concat(Enumerable.Repeat("""{"a":""", 70)) + "1" + new string('}', 70), "--patience", "0");
        var sent = await RunAsync(host, host.Address, "r-3", Reading);

        Assert.Equal(Refused, sent.Exit);
        Assert.Contains("r-1 does not count and is kept aside. refused: data.releaseAgent: is required.", sent.Error, StringComparison.Ordinal);
        Assert.Contains("r-2 does not count and is kept aside.", sent.Error, StringComparison.Ordinal);
        Assert.Equal("r-3 recorded\n", sent.Out);

        var later = await RunAsync(host, host.Address, "r-4", Reading);
        Assert.True(later is { Exit: Recorded, Error: "" }, later.Error);
        Assert.Equal(["r-3", "r-4"], await IdsAsync(host));
        Assert.StartsWith("r-1 aside refused:", (await RunAsync(host, host.Address, "r-1", Reading)).Out, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_wrong_key_stops_it_with_a_sentence_and_nothing_is_given_up()
    {
        await using var host = await PlantHost.StartAsync();
        var stopped = await RunAsync(host, host.Address, "k-1", Reading, "wrong", []);

        Assert.Equal(Refused, stopped.Exit);
        Assert.Contains("/v1/facts was refused. 401: The device is not known, or its key or signature is not right.", stopped.Error, StringComparison.Ordinal);
        Assert.Contains("k-1 is kept in outbox.db.", stopped.Error, StringComparison.Ordinal);
        Assert.Equal(Recorded, (await RunAsync(host, host.Address, "k-2", Reading)).Exit);
        Assert.Equal(["k-1", "k-2"], await IdsAsync(host));
    }

    [Fact]
    public async Task Over_a_broker_it_asks_until_the_fact_is_recorded()
    {
        await using var host = await PlantHost.StartAsync(true, ["web,worker"]);
        var asked = 0;
        await using var between = await BetweenAsync(host, (http, _, ask) =>
        {
            if (http.Request.Path == "/v1/receipts") asked++;
            return ask();
        });
        var sent = await RunAsync(host, new Uri(between.Urls.First()), "b-1", Reading);

        Assert.True(sent.Exit == Recorded, sent.Error);
        Assert.True(asked > 0);
        Assert.Equal(["b-1"], await IdsAsync(host));
    }

    private Task<(int Exit, string Out, string Error)> RunAsync(PlantHost host, Uri service, string id, string data, params string[] more) =>
        RunAsync(host, service, id, data, host.Credentials.Device("form-1").Key, more);

    private Task<(int Exit, string Out, string Error)> RunAsync(PlantHost host, Uri service, string id, string data, string key, string[] more) =>
        Tool.RunAsync("python3", _folder, new Dictionary<string, string> { ["TRACE_STATION_KEY"] = key },
            ["-W", "error", "-B", Repository.Path("docs", "clients", "python", "trace_station.py"), "--service", service.ToString(), "--device", "form-1", "--source", "/plant/form-1", "--id", id, .. more, "form.oiled.v1", data]);

    private static async Task<IReadOnlyList<string>> IdsAsync(PlantHost host)
    {
        await using var command = host.Database.CreateCommand("select event_id from trace.record order by position");
        await using var reader = await command.ExecuteReaderAsync();
        var ids = new List<string>();
        while (await reader.ReadAsync()) ids.Add(reader.GetString(0));
        return ids;
    }

    /// <summary>A line between station and service, for what goes wrong on one.</summary>
    private static async Task<WebApplication> BetweenAsync(PlantHost host, Func<HttpContext, byte[], Func<Task<(int Status, string Text)>>, Task<(int Status, string Text)>> on)
    {
        var builder = WebApplication.CreateSlimBuilder();
        builder.WebHost.UseUrls("http://127.0.0.1:0");
        builder.Logging.ClearProviders();
        var app = builder.Build();
        app.Run(http => AnswerAsync(host, http, on));
        await app.StartAsync();
        return app;
    }

    private static async Task AnswerAsync(PlantHost host, HttpContext http, Func<HttpContext, byte[], Func<Task<(int Status, string Text)>>, Task<(int Status, string Text)>> on)
    {
        using var body = new MemoryStream();
        await http.Request.Body.CopyToAsync(body);
        var (status, text) = await on(http, body.ToArray(), () => AskAsync(host, http.Request.Method, http.Request.Path, http.Request.Headers, body.ToArray()));
        if (http.RequestAborted.IsCancellationRequested) return;
        http.Response.StatusCode = status;
        await http.Response.WriteAsync(text);
    }

    private static async Task<(int Status, string Text)> AskAsync(PlantHost host, string method, string path, IHeaderDictionary headers, byte[] body)
    {
        using var client = new HttpClient();
        using var request = new HttpRequestMessage(new HttpMethod(method), new Uri(host.Address, path));
        if (body.Length > 0) request.Content = new ByteArrayContent(body) { Headers = { { "Content-Type", headers.ContentType.ToString() } } };
        foreach (var name in headers.Keys.Where(k => k.StartsWith("X-", StringComparison.OrdinalIgnoreCase))) request.Headers.Add(name, headers[name].ToString());
        using var answer = await client.SendAsync(request);
        return ((int)answer.StatusCode, await answer.Content.ReadAsStringAsync());
    }
}
