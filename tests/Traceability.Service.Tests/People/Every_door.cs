using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Reflection;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Http.Metadata;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Mvc.RazorPages.Infrastructure;
using Microsoft.AspNetCore.Routing;
using Microsoft.AspNetCore.Routing.Patterns;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Tests;
using Traceability.Service.Pages;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.People;

/// <summary>Every role tries every door of the running service, with what is its own and with what is another's.</summary>
public sealed partial class Every_door : IAsyncLifetime
{
    private const string Device = "all-stations", Revoked = "all-stations-revoked", Key = "made for this test alone", Password = "a password of this test", Pin = "271828";

    /// <summary>Doors that keep their answer open; whoever may pass gets no end of it.</summary>
    private static readonly string[] Streams = ["GET /v1/notices"];

    private PlantHost _host = null!;
    private HttpClient _http = null!;
    private string _token = "";
    private IReadOnlyList<Door> _doors = null!;

    /// <summary>A record of each role's own making; none of a role that records nothing.</summary>
    private readonly Dictionary<string, Guid> _records = new(StringComparer.Ordinal);

    /// <param name="Action">Null when the endpoint names none that the table has.</param>
    private sealed record Door(string Method, string Pattern, RoutePattern Route, string? Handler, string? Action, string Accepts = "application/json")
    {
        public string Name => $"{Method} {Pattern}{(Handler is null ? "" : "?handler=" + Handler)}";
        public bool IsPage => !Pattern.StartsWith("/v1", StringComparison.Ordinal) && !Pattern.StartsWith("/log", StringComparison.Ordinal);
    }

    /// <param name="Role">Null for a visitor who is not signed on and for a device.</param>
    private sealed record Actor(string Name, string? Role, string? Cookie, string? Device);

    public async Task InitializeAsync()
    {
        _host = await PlantHost.StartAsync(false, ["web"], "--Scenario:Clock=true");
        _http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false, UseCookies = false }) { BaseAddress = _host.Address };
        var register = _host.Services.GetRequiredService<Register>();
        var one = register.NewPerson("role", "role", Password, Pin, []);
        await register.SaveAsync(
        [
            .. Roles.All.Append("nothing").Select(r => one with { Id = "role-" + r, Roles = [r] }),
            .. Roles.All.Select(r => one with { Id = "second-" + r, Roles = [r] }), one with { Id = "second-nothing" },
            one with { Id = "another", Roles = [Roles.Laboratory] },
            new Device { Id = Device, Name = Device, KeyHash = Register.HashKey(Key), Roles = Roles.All },
            new Device { Id = Revoked, Name = Revoked, KeyHash = Register.HashKey(Key), Roles = Roles.All, RevokedAt = DateTimeOffset.UnixEpoch },
        ], CancellationToken.None);
        _doors = await DoorsAsync();
        await AssignAsync("role-" + Roles.AgencyInspector, "Invented Highway Agency");
        _agencys[true] = await ContractAsync("OWN", "Invented Highway Agency");
        _agencys[false] = await ContractAsync("OTHER", "Another Invented Agency");
    }

    /// <summary>What there is of the inspector's agency (true) and of another one (false), by what a door is about.</summary>
    private readonly Dictionary<bool, IReadOnlyDictionary<Concern, string>> _agencys = [];

    private async Task<IReadOnlyDictionary<Concern, string>> ContractAsync(string key, string agency)
    {
        async Task<Guid> RecordAsync(IFact fact)
        {
            var (status, record) = await SendAsync(FactCatalog.Of(fact), "role-" + Roles.QualityEngineer, FactCatalog.Write(fact), proved: true);
            Assert.Equal("recorded", status);
            return record!.Value;
        }

        var (unit, letter) = ("UNIT-" + key, Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(Encoding.UTF8.GetBytes(key))));
        await RecordAsync(new ContractOpened("C-" + key, "An invented contract", agency, "national-standards", 1));
        var scheduled = await RecordAsync(new UnitScheduled(unit, "M-1", "D-1", "0", "MX-1", "F-1", new DateOnly(2026, 3, 3), "C-" + key));
        await RecordAsync(new DocumentAttached("unit:" + unit, "A letter", letter, "application/pdf"));
        await _host.ExecuteAsync($"""
            insert into trace.packet (id, issued_at, issued_by, draft, contract, units, open_items, sha256, zip, signed) values ('P-{key}', now(), 'p-1', false, 'C-{key}', array['{unit}'], 0, '{letter}', '', true);
            insert into trace.load_certificate (delivery, number, issued_at, issued_by, contract, units, exceptions, sha256, record, pdf) values ('L-{key}', 1, now(), 'p-1', 'C-{key}', array['{unit}'], 0, '{letter}', gen_random_uuid(), '');
            insert into trace.document (sha256, media_type, bytes, kept_by, kept_at) values ('{letter}', 'application/pdf', '', 'p-1', now());
            """);
        return new Dictionary<Concern, string>
        {
            [Concern.Unit] = unit, [Concern.Record] = scheduled.ToString(), [Concern.Packet] = "P-" + key, [Concern.Delivery] = "L-" + key, [Concern.Document] = letter,
        };
    }

    private static Concern? ConcernOf(Door door) => OwnContracts.Doors.TryGetValue(door.Pattern, out var concern) ? concern : null;

    // Of what belongs to contracts an agency's inspector passes with what is the own agency's; what spans contracts is closed.
    private static bool IsOpenToInspectors(Door door, bool own) => ConcernOf(door) switch { null => false, Concern.Nobodys or Concern.Filtered or Concern.Act => true, _ => own };

    [Fact]
    public async Task An_inspector_passes_with_what_is_of_the_own_agency_and_not_with_anothers_wherever_the_request_names_it()
    {
        var inspector = new Actor(Roles.AgencyInspector, Roles.AgencyInspector, await CookieAsync("role-" + Roles.AgencyInspector), null);
        async Task<bool> PassesAsync(HttpMethod method, string path, params (string, string)[] form)
        {
            using var request = new HttpRequestMessage(method, path);
            request.Headers.Add("Cookie", inspector.Cookie);
            if (form.Length > 0)
            {
                await FormAsync(request, inspector, "");
                request.Content = new FormUrlEncodedContent([.. form.Select(f => KeyValuePair.Create(f.Item1, f.Item2)), KeyValuePair.Create("__RequestVerificationToken", _token)]);
            }

            using var answer = await _http.SendAsync(request);
            return answer.StatusCode != HttpStatusCode.Forbidden && answer.Headers.Location?.OriginalString.Contains("/not-allowed", StringComparison.Ordinal) != true;
        }

        Assert.True(await PassesAsync(HttpMethod.Get, "/units/UNIT-OWN"));
        Assert.False(await PassesAsync(HttpMethod.Get, "/units/UNIT-OTHER"));
        Assert.False(await PassesAsync(HttpMethod.Get, "/units/UNIT-OWN?id=UNIT-OTHER"));
        Assert.False(await PassesAsync(HttpMethod.Get, "/v1/units/UNIT-OWN?unit=UNIT-OTHER"));
        (string, string)[] waiver = [("hold", "Pour"), ("from", "2026-03-02T06:00"), ("until", "2026-03-02T18:00"), ("letter", "W-1"), ("pin", Pin)];
        Assert.True(await PassesAsync(HttpMethod.Post, "/units/UNIT-OWN?handler=Waive", waiver));
        Assert.False(await PassesAsync(HttpMethod.Post, "/units/UNIT-OWN?handler=Waive", [.. waiver, ("id", "UNIT-OTHER")]));
        Assert.False(await PassesAsync(HttpMethod.Post, "/units/UNIT-OTHER?handler=Waive", [.. waiver, ("id", "UNIT-OWN")]));
        Assert.Equal(1, await _host.ScalarAsync("select count(*) from trace.record where type = 'agency.waived.v1'"));
        async Task<string> ActAsync(string unit)
        {
            using var request = new HttpRequestMessage(HttpMethod.Post, "/v1/decisions/agency-acts") { Content = JsonContent.Create(new { act = "unit.stamped", data = new { unit, stamp = "S-1" }, pin = Pin }) };
            request.Headers.Add("Cookie", inspector.Cookie);
            using var answer = await _http.SendAsync(request);
            return $"{(int)answer.StatusCode} {(answer.IsSuccessStatusCode ? "" : (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("type").GetString())}";
        }

        Assert.Equal(("201 ", "403 /problems/other-agency"), (await ActAsync("UNIT-OWN"), await ActAsync("UNIT-OTHER")));
    }

    [Fact]
    public async Task Lists_and_search_leave_out_what_is_of_other_agencies()
    {
        await _host.AddAsync("worker");
        await PlantHost.EventuallyAsync(async () => await _host.ScalarAsync("select count(*) from marten.mt_doc_unitrow where id in ('UNIT-OWN', 'UNIT-OTHER')") == 2, "both units assembled");
        foreach (var (role, others) in new[] { (Roles.Auditor, true), (Roles.AgencyInspector, false) })
        {
            var cookie = await CookieAsync("role-" + role);
            foreach (var path in new[] { "/units", "/units?q=UNIT-", "/units?q=C-O", "/v1/units", "/v1/packets" })
            {
                using var request = new HttpRequestMessage(HttpMethod.Get, path);
                request.Headers.Add("Cookie", cookie);
                using var answer = await _http.SendAsync(request);
                var text = await answer.Content.ReadAsStringAsync();
                Assert.Contains("-OWN", text, StringComparison.Ordinal);
                Assert.True(text.Contains("-OTHER", StringComparison.Ordinal) == others, $"{path} as {role}: {(others ? "lacks" : "shows")} what is another agency's");
            }
        }
    }

    private async Task AssignAsync(string inspector, string agency) =>
        Assert.Equal("recorded", (await SendAsync(FactCatalog.Of<InspectorAssigned>(), "role-" + Roles.QualityEngineer, JsonSerializer.SerializeToElement(new { person = inspector, agency, from = "2026-01-01" }), proved: true)).Status);

    public async Task DisposeAsync()
    {
        _http.Dispose();
        await _host.DisposeAsync();
    }

    [Fact]
    public void Every_endpoint_has_a_row_and_every_row_an_endpoint()
    {
        Assert.Empty(_doors.Where(d => d.Action is null).Select(d => $"{d.Name} names no action of WhoMay; say with RequireAuthorization or [Authorize] which it is"));
        Assert.Equal(WhoMay.OpenDoors.Order(StringComparer.Ordinal), _doors.Where(d => d.Action == Access.Open).Select(d => d.Name).Order(StringComparer.Ordinal));
        Assert.Empty(WhoMay.Table.Select(p => p.Action).Except(_doors.Select(d => d.Action!)).Select(a => $"the row '{a}' has no endpoint"));
    }

    [Fact]
    public async Task Every_role_passes_the_doors_that_the_table_opens_to_it_and_no_other()
    {
        var actors = await ActorsAsync();
        foreach (var role in Roles.All)
        {
            if (FactCatalog.All.Values.FirstOrDefault(t => t.Roles.Contains(role) && !typeof(IDecision).IsAssignableFrom(t.Clr) && t.Clr != typeof(RecordCorrected)) is not { } type) continue;
            var (status, record) = await SendAsync(type, "role-" + role, proved: true);
            Assert.Equal("recorded", status);
            _records[role] = record!.Value;
        }

        Assert.Equal(Roles.All.Except([Roles.Auditor, Roles.SecondApprover]), _records.Keys);
        var wrong = new List<string>();
        var tried = 0;
        // Who has signed out passes nothing more.
        foreach (var door in _doors.OrderBy(d => d.Pattern.EndsWith("/sign-out", StringComparison.Ordinal)))
        {
            var permission = WhoMay.To(door.Action!);
            foreach (var actor in actors)
            {
                foreach (var own in new[] { true, false })
                {
                    var expected = Expected(permission, actor, own && !(permission.OwnerInBody && !_records.ContainsKey(actor.Role ?? "")))
                        && (actor.Role != Roles.AgencyInspector || permission.Anyone || IsOpenToInspectors(door, own));
                    var (passed, answer) = await TryAsync(door, actor, own);
                    tried++;
                    if (passed != expected) wrong.Add($"{door.Name} as {actor.Name} ({(own ? "own" : "another's")}): the table says {(expected ? "may" : "may not")}, the service answered {answer}");
                }
            }
        }

        Assert.True(tried >= _doors.Count * (Roles.All.Count + 4) * 2, $"{tried} tries");
        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    [Fact]
    public void The_auditor_changes_nothing_and_the_administrator_signs_no_decision_of_quality()
    {
        // What is sent by POST and is open to everybody who is signed on either asks a question or concerns one's own account.
        Assert.Empty(_doors.Where(d => d.Method is not ("GET" or "HEAD") && d.Action is not (Access.Open or Access.Receipts or Access.Account) && WhoMay.To(d.Action!).Allows([Roles.Auditor], true)).Select(d => d.Name));
        Assert.Equal([Access.Open, Access.Read, Access.ReadOrDevice, Access.FreeText, Access.Account, Access.Receipts, Access.Inspectors, Access.SetApart, Access.Administrator, Access.People, Access.PeopleOfOthers, Access.Scenario],
            WhoMay.Table.Where(p => p.Allows([Roles.Administrator], false) || p.Allows([Roles.Administrator], true)).Select(p => p.Action));
    }

    [Fact]
    public async Task Every_role_records_the_facts_of_its_station_and_no_other()
    {
        var wrong = new List<string>();
        foreach (var role in Roles.All.Append("nothing"))
        {
            foreach (var type in FactCatalog.All.Values)
            {
                foreach (var proved in new[] { false, true })
                {
                    var (status, _) = await SendAsync(type, "role-" + role, proved: proved);
                    var expected = typeof(IDecision).IsAssignableFrom(type.Clr) ? "refused" : !WhoMay.Records(type, [role]) || IsAgencys(type, role) ? "quarantined"
                        : type.Kind == FactKind.Act && !proved ? "claimed"
                        // The record that it names is none: it waits for that, to be weighed.
                        : type.Clr == typeof(RecordCorrected) || type.Clr == typeof(RecordWithdrawn) ? "weighing" : "recorded";
                    // A certificate of a lot of which a unit was poured meanwhile is weighed first.
                    if (status != expected && !(expected == "recorded" && status == "weighing" && Service.Recording.Restating.Restates(type))) wrong.Add($"{type.Type} by {role}{(proved ? " signed on" : "")}: expected {expected}, it was {status}");
                }
            }
        }

        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    // From a station only the agency's own inspector says what the agency did.
    private static bool IsAgencys(FactType type, string role) => role != Roles.AgencyInspector && type.Clr.IsAssignableTo(typeof(IAgencyAct));

    [Fact]
    public async Task An_act_is_never_taken_from_a_station_that_names_nobody()
    {
        foreach (var type in FactCatalog.All.Values.Where(t => !typeof(IDecision).IsAssignableFrom(t.Clr)))
            Assert.Equal((type.Type, type.Kind == FactKind.Act ? "quarantined" : "recorded"), (type.Type, (await SendAsync(type, null)).Status));
    }

    [Fact]
    public async Task The_second_approver_is_another_person_of_the_plant_and_not_of_production()
    {
        var approve = new List<string>();
        var cookie = await CookieAsync("role-" + Roles.QualityEngineer);
        foreach (var role in Roles.All.Append("nothing").Append("same"))
        {
            using var request = new HttpRequestMessage(HttpMethod.Post, "/v1/decisions/overrides")
            {
                Content = JsonContent.Create(new { unit = "X-1", hold = "pour", reason = "tried by a test", pin = Pin, secondApprover = role == "same" ? "role-" + Roles.QualityEngineer : "second-" + role, secondPin = Pin }),
            };
            request.Headers.Add("Cookie", cookie);
            using var answer = await _http.SendAsync(request);
            // Past the approval it is the unit that nobody knows.
            if (answer.StatusCode == HttpStatusCode.NotFound) approve.Add(role);
            else Assert.True(answer.StatusCode is HttpStatusCode.Forbidden or HttpStatusCode.UnprocessableEntity, $"{role}: {answer.StatusCode}");
        }

        Assert.Equal([Roles.QualityEngineer, Roles.SecondApprover], approve);
    }

    [Fact]
    public void The_page_of_who_may_do_what_is_as_the_table_has_it()
    {
        var text = new StringBuilder("""
            # Who may do what

            Generated from the table `WhoMay` in `src/Traceability.Service/People`; a test keeps it so and tries every endpoint as every role, with what is its own and
            with what is another's (`TRACE_WRITE_DOCS=1 ops/test service` rewrites this page). The quality engineer is the plant's; the engineer of record is
            the designer's licensed engineer. Signed means by a signed-on person with the PIN at that moment.

            ## Actions

            | action | who | rule |
            |---|---|---|

            """);
        foreach (var permission in WhoMay.Table)
        {
            text.Append("| ").Append(permission.What).Append(" | ").Append(WhoMay.Words(permission)).Append(" | ").Append(permission.Rule).Append(" |\n");
        }

        text.Append("\n## Doors\n\n| door | action |\n|---|---|\n");
        foreach (var door in _doors) text.Append("| `").Append(door.Name).Append("` | ").Append(WhoMay.To(door.Action!).What).Append(" |\n");

        text.Append("\n## Facts of the stations\n\nThe device must have the station's role and the person too; the quality engineer may stand in at any station. What comes from others is kept and quarantined. A fact that tells what somebody decided names that person, and what an agency did comes from a station only in the name of its inspector, who is assigned to an agency by a record. Releases, overrides and their undoing are never taken from a station.\n\n| role | facts |\n|---|---|\n");
        foreach (var role in Roles.All)
        {
            var types = FactCatalog.All.Values.Where(t => t.Roles.Contains(role) && !typeof(IDecision).IsAssignableFrom(t.Clr)).Select(t => $"`{t.Name}`").Distinct().Order(StringComparer.Ordinal).ToList();
            if (types.Count > 0) text.Append("| ").Append(role.Replace('-', ' ')).Append(" | ").AppendJoin(", ", types).Append(" |\n");
        }

        text.Append("\nThe second approval is given by another person who is ").AppendJoin(", ", Roles.All.Where(r => WhoMay.ApprovesSecond([r])).Select(r => r.Replace('-', ' ')))
            .Append(" and holds no role of production.\n");
        text.Append("\nProduction, whose people never give the second approval: ").AppendJoin(", ", Roles.Production.Select(r => r.Replace('-', ' ')))
            .Append(". Held alone, never beside another role: ").AppendJoin(", ", Roles.Alone.Select(r => r.Replace('-', ' '))).Append(".\n");
        Repository.AssertGenerated(text.ToString(), "docs", "who-may-do-what.md");
    }

    private static bool Expected(Permission permission, Actor actor, bool own) =>
        permission.Anyone || (actor.Device is { } device ? permission.Devices && (permission.RevokedDevices || device != Revoked) : actor.Role is { } role && permission.Allows([role], own));

    private async Task<List<Actor>> ActorsAsync()
    {
        List<Actor> actors = [new("a visitor", null, null, null), new("a device", null, null, Device), new("a revoked device", null, null, Revoked)];
        foreach (var role in Roles.All.Append("nothing")) actors.Add(new(role, role, await CookieAsync("role-" + role), null));
        return actors;
    }

    private async Task<string> CookieAsync(string person)
    {
        using var answer = await _http.PostAsJsonAsync("/v1/sign-in", new { person, password = Password });
        answer.EnsureSuccessStatusCode();
        return answer.Headers.GetValues("Set-Cookie").Single().Split(';')[0];
    }

    /// <summary>Goes through a door with a request that is well-formed enough to be let in and too poor to do anything.</summary>
    private async Task<(bool Passed, string Answer)> TryAsync(Door door, Actor actor, bool own)
    {
        var person = own && actor.Role is { } role ? "role-" + role : "another";
        if (actor.Role == Roles.AgencyInspector && ConcernOf(door) is { } concern && _agencys[own].TryGetValue(concern, out var theirs)) person = theirs;
        var path = Path(door, person);
        using var request = new HttpRequestMessage(new HttpMethod(door.Method), path);
        if (actor.Cookie is { } cookie) request.Headers.Add("Cookie", cookie);
        if (actor.Device is { } device)
        {
            request.Headers.Add("X-Device-Id", device);
            request.Headers.Add("X-Device-Key", Key);
        }

        if (door.IsPage && door.Method == "POST") await FormAsync(request, actor, person);
        else if (door.Method is not ("GET" or "HEAD")) request.Content = new StringContent(Body(door, actor, own), Encoding.UTF8, door.Accepts);
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(Streams.Contains(door.Name) ? 0.3 : 60));
        HttpResponseMessage answer;
        try
        {
            answer = await _http.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, patience.Token);
        }
        catch (OperationCanceledException) when (Streams.Contains(door.Name))
        {
            return (true, "an answer without end");
        }

        using (answer)
        {
            if (answer.StatusCode == HttpStatusCode.Unauthorized && door.Action != Access.Open) return (false, "401");
            if (answer.StatusCode == HttpStatusCode.Redirect && answer.Headers.Location!.OriginalString is var to && (to.Contains("/sign-in", StringComparison.Ordinal) || to.Contains("/not-allowed", StringComparison.Ordinal)))
                return (door.Action == Access.Open, "to " + to);
            if (answer.StatusCode != HttpStatusCode.Forbidden || door.IsPage) return (true, ((int)answer.StatusCode).ToString(System.Globalization.CultureInfo.InvariantCulture));
            var problem = await answer.Content.ReadFromJsonAsync<JsonElement>();
            return (problem.GetProperty("type").GetString() is not ("/problems/who-may" or "/problems/other-agency"), "403 " + problem);
        }
    }

    // Where the body says whose the object is, it names a record of one's own or of another's, and a PIN that signs nothing.
    private string Body(Door door, Actor actor, bool own) => !WhoMay.To(door.Action!).OwnerInBody ? "not json" : JsonSerializer.Serialize(new
    {
        record = own && _records.TryGetValue(actor.Role ?? "", out var mine) ? mine : _records.First(r => r.Key != actor.Role).Value,
        replacedVersion = 1, withdrawnVersion = 1, data = new { }, reason = "tried by a test", pin = "wrong",
    });

    // A form carries the token that a page of the same visitor gave it; without one even those who may are refused.
    private async Task FormAsync(HttpRequestMessage request, Actor actor, string person)
    {
        using var page = new HttpRequestMessage(HttpMethod.Get, "/sign-in");
        if (actor.Cookie is { } cookie) page.Headers.Add("Cookie", cookie);
        using var answer = await _http.SendAsync(page);
        var token = _token = Token().Match(await answer.Content.ReadAsStringAsync()).Groups[1].Value;
        var cookies = (answer.Headers.TryGetValues("Set-Cookie", out var set) ? set.Select(s => s.Split(';')[0]) : []).Concat(actor.Cookie is null ? [] : [actor.Cookie]);
        request.Headers.Remove("Cookie");
        request.Headers.Add("Cookie", string.Join("; ", cookies));
        request.Content = new FormUrlEncodedContent([new("__RequestVerificationToken", token), new("id", person)]);
    }

    private static string Path(Door door, string person)
    {
        var path = new StringBuilder();
        foreach (var segment in door.Route.PathSegments)
        {
            path.Append('/');
            foreach (var part in segment.Parts)
            {
                path.Append(part switch
                {
                    RoutePatternLiteralPart literal => literal.Content,
                    RoutePatternSeparatorPart separator => separator.Content,
                    RoutePatternParameterPart { ParameterPolicies: { Count: > 0 } policies } when policies.Any(p => p.Content == "guid") => Guid.TryParse(person, out _) ? person : "00000000-0000-0000-0000-000000000001",
                    RoutePatternParameterPart { Name: "documentName" } => "v1",
                    _ => person,
                });
            }
        }

        var at = path.Length == 0 ? "/" : path.ToString();
        return door.Handler is null ? at : at + "?handler=" + door.Handler;
    }

    private async Task<(string Status, Guid? Record)> SendAsync(FactType type, string? person, JsonElement? given = null, bool proved = false)
    {
        var data = given ?? JsonDocument.Parse(File.ReadAllBytes(Repository.Path("tests", "Traceability.Core.Tests", "Events", "golden", type.Type + ".minimal.json"))).RootElement;
        var content = new ByteArrayContent(JsonSerializer.SerializeToUtf8Bytes(new
        {
            specversion = "1.0", id = Guid.NewGuid().ToString(), source = "/doors", type = type.Type, time = "2026-03-02T09:30:00-05:00", person, data,
        }, new JsonSerializerOptions { DefaultIgnoreCondition = System.Text.Json.Serialization.JsonIgnoreCondition.WhenWritingNull }));
        content.Headers.ContentType = new MediaTypeHeaderValue("application/cloudevents+json");
        using var request = new HttpRequestMessage(HttpMethod.Post, "/v1/facts") { Content = content };
        request.Headers.Add("X-Device-Id", Device);
        request.Headers.Add("X-Device-Key", Key);
        if (proved) request.Headers.Add(SignOnTokens.Header, _host.Services.GetRequiredService<SignOnTokens>().Issue(_host.Services.GetRequiredService<Register>().Person(person!)!, Device));
        using var answer = await _http.SendAsync(request);
        var said = await answer.Content.ReadFromJsonAsync<JsonElement>();
        return said.TryGetProperty("status", out var status) && status.ValueKind == JsonValueKind.String
            ? (status.GetString()!, said.TryGetProperty("recordId", out var id) ? id.GetGuid() : null) : ("refused", null);
    }

    private async Task<IReadOnlyList<Door>> DoorsAsync()
    {
        var loader = _host.Services.GetRequiredService<PageLoader>();
        var doors = new List<Door>();
        foreach (var endpoint in _host.Services.GetRequiredService<EndpointDataSource>().Endpoints.OfType<RouteEndpoint>())
        {
            var pattern = "/" + endpoint.RoutePattern.RawText!.TrimStart('/');
            if (endpoint.Metadata.GetMetadata<PageActionDescriptor>() is { } page)
            {
                var loaded = await loader.LoadAsync(page, endpoint.Metadata);
                var own = ActionOf(endpoint.Metadata.GetMetadata<IAllowAnonymous>() is null && loaded.Endpoint is { } whole ? whole.Metadata : endpoint.Metadata);
                doors.Add(new("GET", pattern, endpoint.RoutePattern, null, own));
                foreach (var handler in loaded.HandlerMethods.Where(h => h.HttpMethod != "Get"))
                    doors.Add(new(handler.HttpMethod.ToUpperInvariant(), pattern, endpoint.RoutePattern, handler.Name, handler.MethodInfo.GetCustomAttribute<MayAttribute>()?.Action ?? own));
                continue;
            }

            // The pages that describe the interface come from a package; they are one open door.
            if (pattern.StartsWith("/api-docs", StringComparison.Ordinal)) continue;
            foreach (var method in endpoint.Metadata.GetMetadata<IHttpMethodMetadata>()?.HttpMethods ?? ["GET"])
                doors.Add(new(method, pattern, endpoint.RoutePattern, null, ActionOf(endpoint.Metadata), endpoint.Metadata.GetMetadata<IAcceptsMetadata>()?.ContentTypes[0] ?? "application/json"));
        }

        return [.. doors.Distinct().OrderBy(d => d.Name, StringComparer.Ordinal)];
    }

    private static string? ActionOf(Microsoft.AspNetCore.Http.EndpointMetadataCollection metadata) =>
        metadata.GetMetadata<IAllowAnonymous>() is not null ? Access.Open
        : metadata.GetOrderedMetadata<IAuthorizeData>() is [{ Policy: { } action }] && WhoMay.Has(action) ? action : null;

    [GeneratedRegex("name=\"__RequestVerificationToken\" type=\"hidden\" value=\"([^\"]+)\"")]
    private static partial Regex Token();
}
