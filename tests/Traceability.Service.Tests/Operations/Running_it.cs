using System.Diagnostics;
using System.Net;
using System.Text.Json;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging.Abstractions;
using OpenTelemetry;
using OpenTelemetry.Trace;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Commands;
using Traceability.Service.Operations;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Operations;

public sealed class Running_it
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task One_trace_follows_a_fact_from_intake_to_its_units_row(bool rabbit)
    {
        var spans = new List<Activity>();
        using var provider = Sdk.CreateTracerProviderBuilder().AddSource(Telemetry.Name, "Microsoft.AspNetCore").AddInMemoryExporter(spans).Build();
        await using var host = await PlantHost.StartAsync(rabbit, ["web,worker,signer"]);
        // Other tests run beside this one in the same process; this unit is its own.
        var story = PlantStory.RigidFrame(51, 1, PlantStory.StartFor(1, Now), key: rabbit ? "TRR-" : "TRI-");
        var fact = story.Facts.First(f => f.Event.Type == "unit.scheduled.v1");
        await host.SendAsync([fact]);
        await host.SettleAsync(1);
        await PlantHost.EventuallyAsync(() => Task.FromResult(spans.ToArray().Any(IsMine)), "the assembling span");

        bool IsMine(Activity span) => span.OperationName == "assemble" && (string?)span.GetTagItem("trace.unit") == story.Units[0];
        var assemble = spans.ToArray().First(IsMine);
        Assert.Contains(spans.ToArray(), s => s.Kind == ActivityKind.Server && s.TraceId == assemble.TraceId);
        Assert.Contains(spans.ToArray(), s => s.OperationName == "record" && s.TraceId == assemble.TraceId);
    }

    [Fact]
    public async Task Liveness_runs_no_checks_and_readiness_runs_all()
    {
        await using var host = await PlantHost.StartAsync(true, ["web,worker,signer"]);
        using var http = new HttpClient { BaseAddress = host.Address };
        Assert.Equal("Healthy", await http.GetStringAsync("/health/live"));
        await PlantHost.EventuallyAsync(async () => (await http.GetAsync("/health/ready")).IsSuccessStatusCode, "ready");
        var ready = JsonDocument.Parse(await http.GetStringAsync("/health/ready")).RootElement.GetProperty("checks");
        Assert.Equal(["broker", "database", "links", "masstransit-bus", "recoveries", "signer", "subscriptions-lag", "subscriptions-move"], ready.EnumerateObject().Select(c => c.Name).Order(StringComparer.Ordinal));
    }

    [Theory]
    [InlineData(null, "Plant:TimeZone is not set")]
    [InlineData("Plant time", "'Plant time' is not a name in the IANA time zone database")]
    [InlineData("Eastern Standard Time", "'Eastern Standard Time' is not a name in the IANA time zone database")]
    public async Task Without_the_time_zone_of_the_plant_nothing_starts_and_a_sentence_says_what_to_give(string? zone, string said)
    {
        string[] settings = ["--ConnectionStrings:Postgres=Host=127.0.0.1;Port=1;Database=none", .. zone is null ? Array.Empty<string>() : [$"--Plant:TimeZone={zone}"]];
        var refused = Assert.Throws<SettingException>(() => Service.Operations.Host.Build([.. settings, "--Roles=web"]));
        Assert.Contains(said, refused.Message, StringComparison.Ordinal);
        Assert.Contains("for example Etc/GMT+5", refused.Message, StringComparison.Ordinal);

        using var error = new StringWriter();
        Assert.Equal(ExitCodes.Called, await CommandLine.RunAsync(["people", "list"], new Terminal(TextReader.Null, TextWriter.Null, error, settings)));
        Assert.Contains(said, error.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Settings_of_the_database_that_can_lose_what_was_confirmed_are_named_loudly()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        Assert.Empty(await Startup.CheckDurabilityAsync(host.Database, NullLogger.Instance, CancellationToken.None));
        await using (var alter = host.Database.CreateCommand($"alter database {new Npgsql.NpgsqlConnectionStringBuilder(host.ConnectionString).Database} set synchronous_commit = off")) await alter.ExecuteNonQueryAsync();
        await using var fresh = new Npgsql.NpgsqlDataSourceBuilder(host.ConnectionString + ";Pooling=false").Build();
        Assert.Equal(["synchronous_commit"], await Startup.CheckDurabilityAsync(fresh, NullLogger.Instance, CancellationToken.None));
    }

    [Fact]
    public async Task Every_endpoint_asks_for_somebody_except_those_that_are_meant_to_be_public()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var open = host.Services.GetRequiredService<EndpointDataSource>().Endpoints.OfType<RouteEndpoint>()
            .Where(e => e.Metadata.GetMetadata<IAllowAnonymous>() is not null).Select(e => "/" + e.RoutePattern.RawText!.TrimStart('/')).Distinct().Order(StringComparer.Ordinal).ToList();
        string[] meant = ["/api-docs", "/health", "/openapi", "/sign-in", "/sign-out", "/v1/devices/enrol", "/v1/schemas", "/v1/sign-in", "/v1/sign-out", "/v1/time", "/SignIn", "/scalar", "/problems", "/not-allowed", "/went-wrong",
            "/log/checkpoint", "/log/cosignatures", "/log/succession", "/log/tile/{level:int}"];
        Assert.All(open, path => Assert.Contains(meant, m => path.StartsWith(m, StringComparison.OrdinalIgnoreCase)));
        using var http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = host.Address };
        foreach (var path in new[] { "/v1/units", "/v1/units/X", "/v1/units/X/dossier", "/v1/log/checkpoint", "/v1/notices", "/log/tile/entries/000" })
            Assert.Equal(HttpStatusCode.Unauthorized, (await http.GetAsync(path)).StatusCode);
    }

    [Fact]
    public async Task The_interface_is_described_and_has_a_page_for_people()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var http = new HttpClient { BaseAddress = host.Address };
        var paths = JsonDocument.Parse(await http.GetStringAsync("/openapi/v1.json")).RootElement.GetProperty("paths");
        Assert.True(paths.TryGetProperty("/v1/facts", out var facts) && facts.TryGetProperty("post", out _));
        Assert.Contains("html", await http.GetStringAsync("/api-docs/"), StringComparison.OrdinalIgnoreCase);
    }
}
