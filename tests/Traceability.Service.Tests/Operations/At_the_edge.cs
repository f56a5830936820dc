using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Edge;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;

namespace Traceability.Service.Tests.Operations;

/// <summary>What stands between the network and the service.</summary>
public sealed class At_the_edge
{
    [Fact]
    public async Task Every_answer_tells_the_browser_to_run_only_our_own_scripts_and_to_show_them_in_no_frame()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = host.Address };
        foreach (var path in new[] { "/sign-in", "/", "/v1/units", "/health/ready", "/site.js", "/openapi/v1.json", "/no-such-page" })
        {
            using var answer = await http.GetAsync(path);
            string Header(string name) => answer.Headers.TryGetValues(name, out var values) ? string.Join(',', values) : "";
            Assert.Equal(("nosniff", "DENY", "same-origin"), (Header("X-Content-Type-Options"), Header("X-Frame-Options"), Header("Referrer-Policy")));
            var csp = Header("Content-Security-Policy");
            Assert.Contains("default-src 'none'", csp, StringComparison.Ordinal);
            Assert.Contains("script-src 'self'", csp, StringComparison.Ordinal);
            Assert.Contains("frame-ancestors 'none'", csp, StringComparison.Ordinal);
            Assert.DoesNotContain("unsafe-inline", csp, StringComparison.Ordinal);
            Assert.Equal("", Header("Server"));
        }
    }

    [Fact]
    public async Task The_page_of_the_API_asks_no_other_host_and_its_description_names_the_proofs_each_address_takes()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var http = new HttpClient { BaseAddress = host.Address };
        var page = await http.GetStringAsync("/api-docs/index.html");
        Assert.DoesNotContain("https://", page, StringComparison.Ordinal);
        Assert.DoesNotContain("//cdn", page, StringComparison.Ordinal);

        var api = await http.GetFromJsonAsync<JsonElement>("/openapi/v1.json");
        Assert.Equal(["deviceId", "deviceKey", "session", "signOn"], api.GetProperty("components").GetProperty("securitySchemes").EnumerateObject().Select(s => s.Name).Order(StringComparer.Ordinal));
        string Proofs(string path, string method) => string.Join(" or ", api.GetProperty("paths").GetProperty(path).GetProperty(method).GetProperty("security").EnumerateArray().Select(o => string.Join("+", o.EnumerateObject().Select(p => p.Name))));
        Assert.Equal("deviceId+deviceKey or deviceId+deviceKey+signOn", Proofs("/v1/facts", "post"));
        Assert.Equal("session", Proofs("/v1/decisions/corrections", "post"));
        Assert.Equal("deviceId+deviceKey or session", Proofs("/v1/units", "get"));
        Assert.False(api.GetProperty("paths").GetProperty("/v1/time").GetProperty("get").TryGetProperty("security", out _));
    }

    [Fact]
    public async Task Who_signs_out_ends_the_session_for_every_copy_of_its_cookie_and_in_every_process()
    {
        await using var host = await PlantHost.StartAsync(false, ["web,worker", "web"]);
        using var client = new HttpClient(new HttpClientHandler { UseCookies = false, AllowAutoRedirect = false });
        var engineer = host.Credentials.Person(Plant.QualityEngineer.Id);
        using var signIn = await client.PostAsJsonAsync(new Uri(host.Address, "/v1/sign-in"), new { person = engineer.Id, password = engineer.Password });
        var cookie = signIn.Headers.GetValues("Set-Cookie").Single().Split(';')[0];
        Assert.All(new[] { "httponly", "samesite=strict", "path=/" }, part => Assert.Contains(part, signIn.Headers.GetValues("Set-Cookie").Single(), StringComparison.OrdinalIgnoreCase));

        async Task<HttpStatusCode> AskAsync(Uri address, HttpMethod method, string path)
        {
            using var request = new HttpRequestMessage(method, new Uri(address, path));
            request.Headers.Add("Cookie", cookie);
            using var answer = await client.SendAsync(request);
            return answer.StatusCode;
        }

        Assert.All(host.Addresses, address => Assert.Equal(HttpStatusCode.OK, AskAsync(address, HttpMethod.Get, "/v1/units").Result));
        Assert.Equal(HttpStatusCode.NoContent, await AskAsync(host.Addresses[0], HttpMethod.Post, "/v1/sign-out"));
        Assert.Equal(HttpStatusCode.Unauthorized, await AskAsync(host.Addresses[0], HttpMethod.Get, "/v1/units"));
        await PlantHost.EventuallyAsync(async () => await AskAsync(host.Addresses[1], HttpMethod.Get, "/v1/units") == HttpStatusCode.Unauthorized, "the other process knows", 10);
        // Also one that is started afterwards.
        await host.AddAsync("web");
        await PlantHost.EventuallyAsync(async () => await AskAsync(host.Address, HttpMethod.Get, "/v1/units") == HttpStatusCode.Unauthorized, "a new process knows", 10);
    }

    [Fact]
    public void A_session_ends_after_twelve_hours_however_busy_it_is()
    {
        var clock = new Microsoft.Extensions.Time.Testing.FakeTimeProvider(new DateTimeOffset(2026, 3, 2, 12, 0, 0, TimeSpan.Zero));
        using var sessions = new Sessions(null!, clock, Microsoft.Extensions.Logging.Abstractions.NullLogger<Sessions>.Instance);
        var user = new System.Security.Claims.ClaimsPrincipal(new System.Security.Claims.ClaimsIdentity(sessions.Begin()));
        clock.Advance(TimeSpan.FromHours(12));
        Assert.True(sessions.Runs(user));
        clock.Advance(TimeSpan.FromSeconds(1));
        Assert.False(sessions.Runs(user));
        Assert.False(sessions.Runs(new System.Security.Claims.ClaimsPrincipal(new System.Security.Claims.ClaimsIdentity())));
    }

    [Theory]
    [InlineData("Sec-Fetch-Site", "cross-site")]
    [InlineData("Sec-Fetch-Site", "same-site")]
    [InlineData("Origin", "https://elsewhere.example")]
    [InlineData("Origin", "null")]
    public async Task What_another_site_makes_a_browser_send_is_not_taken(string header, string value)
    {
        await using var host = await PlantHost.StartAsync(false, ["web,worker"]);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        async Task<HttpResponseMessage> SendAsync(string name, string text)
        {
            using var request = new HttpRequestMessage(HttpMethod.Post, "/v1/sign-out");
            request.Headers.Add(name, text);
            return await engineer.SendAsync(request);
        }

        var refused = await SendAsync(header, value);
        Assert.Equal(HttpStatusCode.Forbidden, refused.StatusCode);
        Assert.Equal("/problems/other-site", (await refused.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("type").GetString());
        Assert.Equal(HttpStatusCode.OK, (await engineer.GetAsync("/v1/units")).StatusCode);
        Assert.Equal(HttpStatusCode.NoContent, (await SendAsync("Origin", host.Address.GetLeftPart(UriPartial.Authority))).StatusCode);
    }

    [Fact]
    public async Task What_programs_are_answered_is_kept_by_nobody_on_the_way()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        foreach (var path in new[] { "/v1/units", "/v1/people", "/v1/nowhere", "/v1/time" })
        {
            using var answer = await engineer.GetAsync(new Uri(path, UriKind.Relative));
            Assert.True(answer.Headers.CacheControl?.NoStore, path);
        }
    }

    [Fact]
    public async Task No_browser_keeps_a_page_and_who_signs_out_leaves_none_behind_but_what_a_kiosk_stored()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        engineer.DefaultRequestHeaders.Accept.ParseAdd("text/html");
        foreach (var path in new[] { "/", "/units", "/account", "/integrity", "/waiting", "/no-such-page", "/not-allowed", "/sign-in" })
        {
            using var page = await engineer.GetAsync(new Uri(path, UriKind.Relative));
            Assert.Equal((path, "text/html", "no-store"), (path, page.Content.Headers.ContentType!.MediaType, page.Headers.CacheControl?.ToString()));
        }

        Assert.NotEqual(true, (await engineer.GetAsync("/site.js")).Headers.CacheControl?.NoStore);
        using var out1 = await engineer.PostAsync(new Uri("/v1/sign-out", UriKind.Relative), null);
        using var again = await host.SignInAsync(Plant.QualityEngineer);
        using var out2 = await again.PostFormAsync("/account", "/sign-out");
        Assert.All(new[] { out1, out2 }, o => Assert.Equal("\"cache\"", o.Headers.GetValues("Clear-Site-Data").Single()));
    }

    [Fact]
    public async Task The_texts_of_the_log_name_their_charset()
    {
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(PlantStory.RigidFrame(1, 1, new DateTimeOffset(2026, 3, 2, 0, 0, 0, PlantStory.PlantOffset)).Facts.Take(3));
        using var http = new HttpClient { BaseAddress = host.Address };
        await PlantHost.EventuallyAsync(async () => (await http.GetAsync("/log/checkpoint")).StatusCode == HttpStatusCode.OK, "a checkpoint is signed");
        foreach (var path in new[] { "/log/checkpoint", "/log/succession" }) Assert.Equal("text/plain; charset=utf-8", (await http.GetAsync(path)).Content.Headers.ContentType!.ToString());
    }

    [Fact]
    public async Task What_another_site_sent_who_was_led_to_not_allowed_and_what_could_not_be_read_stand_in_the_security_log()
    {
        var lines = new Lines();
        await using var host = await PlantHost.StartAsync(false, ["worker"]);
        await host.AddAsync("web", b => b.Services.AddSingleton(new SecurityLog(LoggerFactory.Create(l => l.AddProvider(lines)))));
        using var yard = await host.SignInAsync(Plant.YardForeman);
        using (var other = new HttpRequestMessage(HttpMethod.Post, "/units/U-1?handler=Release"))
        {
            other.Headers.Add("Origin", "https://elsewhere.example\tforged");
            Assert.Equal(HttpStatusCode.Forbidden, (await yard.SendAsync(other)).StatusCode);
        }

        // A page of another role, a form of a page that all may read, and a form that no page of ours made.
        Assert.Equal(HttpStatusCode.Redirect, (await yard.GetAsync("/people")).StatusCode);
        Assert.Equal(HttpStatusCode.Redirect, (await yard.PostFormAsync("/account", "/account?handler=EndOthers", ("id", "p-101"))).StatusCode);
        Assert.Equal(HttpStatusCode.BadRequest, (await yard.PostAsync(new Uri("/account", UriKind.Relative), new FormUrlEncodedContent([]))).StatusCode);
        Assert.Equal(HttpStatusCode.BadRequest, (await yard.PostAsync(new Uri("/v1/receipts", UriKind.Relative), new StringContent("{", System.Text.Encoding.UTF8, "application/json"))).StatusCode);
        using var fact = host.DeviceRequest(HttpMethod.Post, "/v1/facts", Plant.Yard.Device, new StringContent("{}", System.Text.Encoding.UTF8, "application/cloudevents+json"));
        await yard.SendAsync(fact);

        var said = string.Join('\n', lines.Said);
        Assert.Contains("POST /units/U-1 from 127.0.0.1 was refused: another site, https://elsewhere.exampleforged, made a browser send it", said, StringComparison.Ordinal);
        Assert.Contains($"{Plant.YardForeman.Id} was refused GET people with 403 from 127.0.0.1", said, StringComparison.Ordinal);
        Assert.Contains($"{Plant.YardForeman.Id} was refused POST account with 403", said, StringComparison.Ordinal);
        Assert.Contains($"{Plant.YardForeman.Id} was refused POST account with 400", said, StringComparison.Ordinal);
        Assert.Contains($"{Plant.YardForeman.Id} was refused POST /v1/receipts with 400", said, StringComparison.Ordinal);
        Assert.Contains($"{Plant.Yard.Device} sent 1 facts that could not be read", said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Over_HTTPS_cookies_are_bound_to_host_and_HTTPS_and_browsers_come_no_other_way()
    {
        // TLS ends at a proxy on this machine, which says so.
        await using var host = await PlantHost.StartAsync(false, ["worker"]);
        await host.AddAsync("web", "--Edge:Https=true", "--Edge:Proxies=127.0.0.1", "--AllowedHosts=trace.plant.example");
        using var client = new HttpClient(new HttpClientHandler { UseCookies = false, AllowAutoRedirect = false });
        async Task<HttpResponseMessage> SignInAsync(string? forwarded, string? name = "trace.plant.example")
        {
            var person = host.Credentials.Person(Plant.QualityEngineer.Id);
            using var request = new HttpRequestMessage(HttpMethod.Post, new Uri(host.Address, "/v1/sign-in")) { Content = JsonContent.Create(new { person = person.Id, password = person.Password }) };
            request.Headers.Host = name;
            if (forwarded is not null) request.Headers.Add("X-Forwarded-Proto", forwarded);
            request.Headers.Add("X-Forwarded-For", "10.9.8.7");
            return await client.SendAsync(request);
        }

        var answer = await SignInAsync("https");
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        var cookie = answer.Headers.GetValues("Set-Cookie").Single();
        Assert.StartsWith("__Host-trace-session=", cookie, StringComparison.Ordinal);
        Assert.Contains("; secure", cookie, StringComparison.OrdinalIgnoreCase);
        Assert.Equal("max-age=31536000; includeSubDomains", answer.Headers.GetValues("Strict-Transport-Security").Single());
        // The proxy says that somebody came to it in plain HTTP, from elsewhere.
        var plain = await SignInAsync("http");
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/plain-http"), (plain.StatusCode, (await plain.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("type").GetString()));
        Assert.Equal(HttpStatusCode.BadRequest, (await SignInAsync("https", "elsewhere.example")).StatusCode);
    }

    [Fact]
    public async Task The_plants_own_certificate_serves_HTTPS_to_whoever_believes_its_authority_and_to_nobody_else()
    {
        var folder = Directory.CreateTempSubdirectory("trace-https-").FullName;
        using (var made = System.Diagnostics.Process.Start(new System.Diagnostics.ProcessStartInfo(Path.Combine(TestServers.Servers.Root, "ops", "https"), [folder, "trace.plant.example", "127.0.0.1"]) { RedirectStandardError = true })!)
        {
            var said = await made.StandardError.ReadToEndAsync();
            await made.WaitForExitAsync();
            Assert.True(made.ExitCode == 0, said);
        }

        var settings = (await File.ReadAllLinesAsync(Path.Combine(folder, "https.env"))).Where(l => !l.StartsWith("ASPNETCORE_URLS", StringComparison.Ordinal)).Select(l => "--" + l.Replace("__", ":", StringComparison.Ordinal)).ToArray();
        await using var host = await PlantHost.StartAsync(false, ["worker"]);
        await host.AddAsync("web", ["--urls=https://127.0.0.1:0", .. settings]);
        using var authority = System.Security.Cryptography.X509Certificates.X509CertificateLoader.LoadCertificateFromFile(Path.Combine(folder, "plant-ca.crt"));
        using var handler = new SocketsHttpHandler();
        handler.SslOptions.CertificateChainPolicy = new() { TrustMode = System.Security.Cryptography.X509Certificates.X509ChainTrustMode.CustomRootTrust, CustomTrustStore = { authority }, RevocationMode = System.Security.Cryptography.X509Certificates.X509RevocationMode.NoCheck };
        using var kiosk = new HttpClient(handler) { BaseAddress = host.Address };
        Assert.Equal(HttpStatusCode.OK, (await kiosk.GetAsync("/v1/time")).StatusCode);
        using var stranger = new HttpClient { BaseAddress = host.Address };
        await Assert.ThrowsAsync<HttpRequestException>(() => stranger.GetAsync("/v1/time"));
        Directory.Delete(folder, recursive: true);
    }

    [Theory]
    [InlineData("127.0.0.1", true)]
    [InlineData("::1", true)]
    [InlineData("::ffff:127.0.0.1", true)]
    [InlineData("::ffff:10.89.0.1", true)]
    [InlineData("10.89.1.1", false)]
    [InlineData("192.0.2.7", false)]
    public void Plain_HTTP_is_taken_from_the_machine_itself_and_from_networks_that_are_named(string from, bool taken)
    {
        var edge = EdgeSettings.Of(new Microsoft.Extensions.Configuration.ConfigurationBuilder().AddInMemoryCollection([new("Edge:PlainHttpFrom", "10.89.0.0/24")]).Build());
        Assert.Equal(taken, edge.TakesPlainFrom(IPAddress.Parse(from)));
    }

    [Fact]
    public async Task Nobody_but_a_named_proxy_says_who_asks()
    {
        await using var host = await PlantHost.StartAsync(false, ["web,worker"]);
        using var client = new HttpClient { BaseAddress = host.Address };
        using var request = new HttpRequestMessage(HttpMethod.Get, "/v1/time");
        // Were it believed, this would be somebody from elsewhere in plain HTTP.
        request.Headers.Add("X-Forwarded-For", "10.9.8.7");
        Assert.Equal(HttpStatusCode.OK, (await client.SendAsync(request)).StatusCode);
    }

    [Theory]
    [InlineData("--Edge:Https=true", "AllowedHosts is not set")]
    [InlineData("--Edge:Proxies=proxy.plant.example", "Name proxies by address")]
    [InlineData("--Edge:PlainHttpFrom=everywhere", "is not a network in CIDR form")]
    public void A_setting_that_would_leave_the_edge_open_stops_the_start(string setting, string said)
    {
        var refused = Assert.Throws<SettingException>(() => Service.Operations.Host.Build(["--ConnectionStrings:Postgres=Host=127.0.0.1;Port=1;Database=none", $"--Plant:TimeZone={PlantStory.Zone}", "--Roles=web", setting]));
        Assert.Contains(said, refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_flood_of_sign_ins_from_one_address_is_asked_to_wait_and_others_are_not()
    {
        await using var host = await PlantHost.StartAsync(false, ["web,worker"]);
        await host.AddAsync("web", "--Edge:Proxies=127.0.0.1", "--Edge:Https=true", "--AllowedHosts=*.plant.example;127.0.0.1");
        using var client = new HttpClient(new HttpClientHandler { UseCookies = false });
        async Task<HttpStatusCode> SignInAsync(string from, string person = "", string password = "")
        {
            using var request = new HttpRequestMessage(HttpMethod.Post, new Uri(host.Address, "/v1/sign-in")) { Content = JsonContent.Create(new { person, password }) };
            request.Headers.Add("X-Forwarded-For", from);
            request.Headers.Add("X-Forwarded-Proto", "https");
            using var answer = await client.SendAsync(request);
            return answer.StatusCode;
        }

        var answers = await Task.WhenAll(Enumerable.Range(0, Limits.SignInsAtOnce * 3).Select(i => SignInAsync("10.1.1.1", $"nobody-{i}")));
        Assert.Contains(HttpStatusCode.TooManyRequests, answers);
        var engineer = host.Credentials.Person(Plant.QualityEngineer.Id);
        Assert.Equal(HttpStatusCode.OK, await SignInAsync("10.2.2.2", engineer.Id, engineer.Password));
    }

    [Fact]
    public async Task Of_costly_questions_a_few_are_answered_at_once_some_wait_and_the_rest_is_asked_to_come_back_while_the_board_of_now_goes_on()
    {
        await using var host = await PlantHost.StartAsync(false, ["worker"]);
        var open = new TaskCompletionSource();
        var inside = 0;
        await host.AddAsync("web", b => b.Services
            .Configure<Microsoft.AspNetCore.Mvc.MvcOptions>(o => o.Filters.Add(new Held(open.Task, () => Interlocked.Increment(ref inside)))));
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        var asked = Enumerable.Range(0, Costly.AtOnce + Costly.Waiting + 5).Select(_ => engineer.GetAsync("/integrity")).ToList();
        await PlantHost.EventuallyAsync(() => Task.FromResult(asked.Count(a => a.IsCompleted) >= 5), "the rest is asked to come back");
        Assert.All(asked.Where(a => a.IsCompleted), a => Assert.Equal(HttpStatusCode.TooManyRequests, a.Result.StatusCode));
        // Who was let in may still be on the way to the page when the others are turned back.
        await PlantHost.EventuallyAsync(() => Task.FromResult(Volatile.Read(ref inside) >= Costly.AtOnce), "those let in are inside");
        Assert.Equal(Costly.AtOnce, inside);
        Assert.Equal(HttpStatusCode.OK, (await engineer.GetAsync("/")).StatusCode);
        open.SetResult();
        Assert.Equal(Costly.AtOnce + Costly.Waiting, (await Task.WhenAll(asked)).Count(a => a.StatusCode == HttpStatusCode.OK));
    }

    private sealed class Held(Task until, Action entered) : Microsoft.AspNetCore.Mvc.Filters.IAsyncPageFilter
    {
        public Task OnPageHandlerSelectionAsync(Microsoft.AspNetCore.Mvc.Filters.PageHandlerSelectedContext context) => Task.CompletedTask;

        public async Task OnPageHandlerExecutionAsync(Microsoft.AspNetCore.Mvc.Filters.PageHandlerExecutingContext context, Microsoft.AspNetCore.Mvc.Filters.PageHandlerExecutionDelegate next)
        {
            if (context.HttpContext.Request.Path == "/integrity")
            {
                entered();
                await until;
            }

            await next();
        }
    }

    [Fact]
    public async Task A_body_that_no_form_or_decision_needs_is_not_read()
    {
        await using var host = await PlantHost.StartAsync(false, ["web,worker"]);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        using var visitor = new HttpClient { BaseAddress = host.Address };
        async Task<(HttpStatusCode, string?)> SendAsync(HttpClient client, string path, object body)
        {
            // The length is said first and the answer awaited: who began to send would find the way closed.
            using var request = new HttpRequestMessage(HttpMethod.Post, path) { Content = new StringContent(JsonSerializer.Serialize(body), System.Text.Encoding.UTF8, "application/json") };
            request.Headers.ExpectContinue = true;
            using var answer = await client.SendAsync(request);
            return (answer.StatusCode, (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("type").GetString());
        }

        Assert.Equal((HttpStatusCode.RequestEntityTooLarge, "/problems/too-large"), await SendAsync(engineer, "/v1/decisions/corrections", new { reason = new string('x', Limits.LargestBody) }));
        // Eight million bytes of a name would fill the memory of whoever keeps them.
        Assert.Equal((HttpStatusCode.RequestEntityTooLarge, "/problems/too-large"), await SendAsync(visitor, "/v1/sign-in", new { person = new string('p', 8_000_000), password = "x" }));
    }

    [Fact]
    public async Task Who_tried_what_stands_in_the_security_log_without_secrets_and_without_lines_of_the_senders_own()
    {
        var lines = new Lines();
        await using var host = await PlantHost.StartAsync(false, ["worker"]);
        await host.AddAsync("web", b => b.Services.AddSingleton(new SecurityLog(LoggerFactory.Create(l => l.AddProvider(lines)))));
        using var client = new HttpClient { BaseAddress = host.Address };
        var engineer = host.Credentials.Person(Plant.QualityEngineer.Id);
        await client.PostAsJsonAsync("/v1/sign-in", new { person = "p-101\nforged line", password = "guess-7261" });
        using var signedIn = await host.SignInAsync(Plant.QualityEngineer);
        await signedIn.GetAsync("/v1/quarantine");
        await signedIn.PostAsJsonAsync("/v1/decisions/withdrawals", new { record = Guid.NewGuid(), withdrawnVersion = 1, reason = "r", pin = "0000" });
        using var unknown = new HttpRequestMessage(HttpMethod.Post, "/v1/facts") { Content = new ByteArrayContent("{}"u8.ToArray()) { Headers = { ContentType = new("application/cloudevents+json") } } };
        unknown.Headers.Add("X-Device-Id", "nobody-9");
        await client.SendAsync(unknown);
        await signedIn.PostAsync(new Uri("/v1/sign-out", UriKind.Relative), null);

        var said = string.Join('\n', lines.Said);
        Assert.Contains("p-101forgedline showed a password that was refused", said, StringComparison.Ordinal);
        Assert.Contains($"{engineer.Id} showed the right password", said, StringComparison.Ordinal);
        Assert.Contains($"Session of {engineer.Id} began from 127.0.0.1", said, StringComparison.Ordinal);
        Assert.Contains($"{engineer.Id} was refused GET /v1/quarantine", said, StringComparison.Ordinal);
        Assert.Contains($"{engineer.Id} showed a pin that was refused", said, StringComparison.Ordinal);
        Assert.Contains("nobody-9 was refused POST /v1/facts with 401", said, StringComparison.Ordinal);
        Assert.Contains($"Session of {engineer.Id} was ended", said, StringComparison.Ordinal);
        Assert.All(new[] { "guess-7261", engineer.Password, engineer.Pin, "0000" }, secret => Assert.DoesNotContain(secret, said, StringComparison.Ordinal));
    }

    [Fact]
    public async Task However_many_ask_whether_the_service_is_ready_the_checks_run_once_a_second()
    {
        var counted = new Counted();
        await using var host = await PlantHost.StartAsync(false, ["worker"]);
        await host.AddAsync("web", b => b.Services.AddHealthChecks().AddCheck("counted", counted));
        using var client = new HttpClient { BaseAddress = host.Address };
        var began = System.Diagnostics.Stopwatch.GetTimestamp();
        await Task.WhenAll(Enumerable.Range(0, 200).Select(async _ => { using var answer = await client.GetAsync("/health/ready"); }));
        Assert.InRange(counted.Times, 1, 1 + (int)System.Diagnostics.Stopwatch.GetElapsedTime(began).TotalSeconds + 1);
    }

    private sealed class Counted : Microsoft.Extensions.Diagnostics.HealthChecks.IHealthCheck
    {
        private int _times;

        public int Times => _times;

        public Task<Microsoft.Extensions.Diagnostics.HealthChecks.HealthCheckResult> CheckHealthAsync(Microsoft.Extensions.Diagnostics.HealthChecks.HealthCheckContext context, CancellationToken cancellationToken = default)
        {
            Interlocked.Increment(ref _times);
            return Task.FromResult(Microsoft.Extensions.Diagnostics.HealthChecks.HealthCheckResult.Healthy());
        }
    }

    private sealed class Lines : ILoggerProvider, ILogger
    {
        private readonly System.Collections.Concurrent.ConcurrentQueue<string> _said = [];

        public IReadOnlyCollection<string> Said => _said;

        public ILogger CreateLogger(string categoryName) => categoryName == "Security" ? this : Microsoft.Extensions.Logging.Abstractions.NullLogger.Instance;

        public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) => _said.Enqueue(formatter(state, exception));

        public bool IsEnabled(LogLevel logLevel) => true;

        public IDisposable? BeginScope<TState>(TState state) where TState : notnull => null;

        public void Dispose()
        {
        }
    }
}
