using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Time.Testing;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.People;

/// <summary>A station's key is enough for readings; an act takes its person, and what says an earlier record anew takes two where it opens something.</summary>
public sealed class Acts_and_claims : IAsyncLifetime
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5));

    private PlantHost _host = null!;
    private readonly HttpClient _http = new();
    private int _sent;

    public async Task InitializeAsync() => _host = await PlantHost.StartAsync();

    public async Task DisposeAsync()
    {
        _http.Dispose();
        await _host.DisposeAsync();
    }

    private string Pin(Worker worker) => _host.Credentials.Person(worker.Id).Pin;

    private JsonObject Event(IFact fact, Worker? person, DateTimeOffset? at = null)
    {
        var sent = new JsonObject
        {
            ["specversion"] = "1.0", ["id"] = string.Create(CultureInfo.InvariantCulture, $"act-{_sent++}"), ["source"] = Plant.Office.Source, ["type"] = FactCatalog.Of(fact).Type,
            ["time"] = (at ?? Start).ToString("yyyy-MM-dd'T'HH:mm:sszzz", CultureInfo.InvariantCulture), ["clockoffsetms"] = 0, ["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText()),
        };
        if (person is not null) sent["person"] = person.Id;
        return sent;
    }

    private async Task<JsonElement> SendAsync(JsonObject fact, params string[] tokens)
    {
        var request = _host.DeviceRequest(HttpMethod.Post, "/v1/facts", Plant.Office.Device,
            new ByteArrayContent(JsonSerializer.SerializeToUtf8Bytes(fact)) { Headers = { ContentType = new MediaTypeHeaderValue("application/cloudevents+json") } });
        foreach (var token in tokens) request.Headers.Add(SignOnTokens.Header, token);
        using var answer = await _http.SendAsync(request);
        return await answer.Content.ReadFromJsonAsync<JsonElement>();
    }

    private static string Status(JsonElement receipt) => receipt.GetProperty("status").GetString()!;

    private async Task<string> SignOnAsync(Worker person, string device)
    {
        using var answer = await _http.SendAsync(_host.DeviceRequest(HttpMethod.Post, "/v1/kiosk/sign-on", device, JsonContent.Create(new { person = person.Id, pin = Pin(person) })));
        answer.EnsureSuccessStatusCode();
        return (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("token").GetString()!;
    }

    private Task<long> RecordsAsync(string type) => _host.ScalarAsync($"select count(*) from trace.record where type = '{type}'");

    private static async Task<(HttpStatusCode Status, string Problem)> PostAsync(HttpClient http, string path, object body)
    {
        using var answer = await http.PostAsJsonAsync(new Uri(path, UriKind.Relative), body);
        var said = await answer.Content.ReadFromJsonAsync<JsonElement>();
        return (answer.StatusCode, said.TryGetProperty("type", out var type) ? type.GetString()! : said.TryGetProperty("status", out var status) ? status.GetString()! : "");
    }

    [Fact]
    public async Task A_claim_counts_when_its_person_confirms_it_and_nobody_else_can()
    {
        var published = Event(new NoticeGiven(["U-1"], HoldKind.Pour, Start.AddDays(2), "message 4"), Plant.QualityEngineer);
        var receipt = await SendAsync(published);
        Assert.Equal("claimed", Status(receipt));
        Assert.Contains("nothing came with it that proves p-101", receipt.GetProperty("problem").GetProperty("detail").GetString(), StringComparison.Ordinal);
        Assert.Equal(0, await RecordsAsync("notice.given.v1"));

        using var engineer = await _host.SignInAsync(Plant.QualityEngineer);
        using var deputy = await _host.SignInAsync(Plant.DeputyEngineer);
        using var administrator = await _host.SignInAsync(Plant.Administrator);
        var claim = Assert.Single((await engineer.GetFromJsonAsync<JsonElement>("/v1/claims")).EnumerateArray());
        Assert.Empty((await deputy.GetFromJsonAsync<JsonElement>("/v1/claims")).EnumerateArray());
        var (id, contentHash) = (claim.GetProperty("id").GetString()!, claim.GetProperty("contentHash").GetString()!);
        var door = $"/v1/claims/{id}/confirmations";

        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(deputy, door, new { contentHash, pin = Pin(Plant.DeputyEngineer) })).Status);
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(administrator, door, new { contentHash, pin = Pin(Plant.Administrator) })).Status);
        // Nor can an administrator clear it as if it were held back.
        Assert.Equal(HttpStatusCode.NotFound, (await PostAsync(administrator, $"/v1/quarantine/{id}/clear", new { contentHash })).Status);
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/pin"), await PostAsync(engineer, door, new { contentHash, pin = Pin(Plant.QualityEngineer) + "1" }));
        Assert.Equal(0, await RecordsAsync("notice.given.v1"));

        Assert.Equal((HttpStatusCode.Created, "recorded"), await PostAsync(engineer, door, new { contentHash, pin = Pin(Plant.QualityEngineer) }));
        Assert.Equal(1, await RecordsAsync("notice.given.v1"));
        Assert.Empty((await engineer.GetFromJsonAsync<JsonElement>("/v1/claims")).EnumerateArray());
        Assert.Equal("duplicate", Status(await SendAsync(published)));
    }

    [Fact]
    public async Task A_claim_that_is_refused_stays_kept_and_never_counts()
    {
        await SendAsync(Event(new NoticeGiven(["U-1"], HoldKind.Pour, Start.AddDays(2), "message 4"), Plant.QualityEngineer));
        using var engineer = await _host.SignInAsync(Plant.QualityEngineer);
        var claim = Assert.Single((await engineer.GetFromJsonAsync<JsonElement>("/v1/claims")).EnumerateArray());
        var door = $"/v1/claims/{claim.GetProperty("id").GetString()}/refusals";
        var contentHash = claim.GetProperty("contentHash").GetString();

        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(engineer, door, new { contentHash, pin = Pin(Plant.QualityEngineer) })).Status);
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(engineer, door, new { contentHash, pin = Pin(Plant.QualityEngineer), reason = "I gave no notice" })).Status);

        Assert.Equal(0, await RecordsAsync("notice.given.v1"));
        Assert.Equal(1, await _host.ScalarAsync("select count(*) from trace.quarantine where cleared_by like 'p-101, who refused it%'"));
        Assert.Empty((await engineer.GetFromJsonAsync<JsonElement>("/v1/claims")).EnumerateArray());
    }

    [Fact]
    public async Task A_sign_on_proves_its_own_person_at_its_own_device_and_what_comes_again_with_it_waits_no_longer()
    {
        var own = await SignOnAsync(Plant.QualityEngineer, Plant.Office.Device);
        var elsewhere = await SignOnAsync(Plant.QualityEngineer, Plant.Laboratory.Device);
        var other = await SignOnAsync(Plant.DeputyEngineer, Plant.Office.Device);
        JsonObject Notice() => Event(new NoticeGiven(["U-1"], HoldKind.Pour, Start.AddDays(2), "message 4"), Plant.QualityEngineer);

        foreach (var bad in new[] { elsewhere, other, own[..^2], own.Replace('.', '-'), own.Split('.')[0] + "." + other.Split('.')[1], "." , new string('a', 5000) })
            Assert.Equal("claimed", Status(await SendAsync(Notice(), bad)));
        Assert.Equal("recorded", Status(await SendAsync(Notice(), other + ", " + own)));

        var again = Notice();
        Assert.Equal("claimed", Status(await SendAsync(again)));
        Assert.Equal("recorded", Status(await SendAsync(again, own)));
        Assert.Equal(1, await _host.ScalarAsync("select count(*) from trace.quarantine where cleared_by = 'sent again with proof'"));
    }

    [Fact]
    public async Task A_sign_on_ends_after_its_time_and_with_the_secrets_or_roles_that_it_was_made_with()
    {
        var register = _host.Services.GetRequiredService<Register>();
        var clock = new FakeTimeProvider(TimeProvider.System.GetUtcNow());
        var tokens = ActivatorUtilities.CreateInstance<SignOnTokens>(_host.Services, clock);
        var person = register.Person(Plant.QualityEngineer.Id)!;
        var token = tokens.Issue(person, "office-1");
        Assert.Equal([person.Id], tokens.Proved([token], "office-1"));

        clock.Advance(SignOnTokens.Holds + TimeSpan.FromSeconds(1));
        Assert.Empty(tokens.Proved([token], "office-1"));

        token = tokens.Issue(person, "office-1");
        await register.SaveAsync([person with { Stamp = "another" }], CancellationToken.None);
        Assert.Empty(tokens.Proved([token], "office-1"));
    }

    /// <summary>A unit that was released and poured on a cover read far out of tolerance, and the correction that says it was well.</summary>
    private async Task<(string Unit, Guid Record, JsonObject Correction, DateTimeOffset At)> PouredOnABadCoverAsync(int seed)
    {
        var story = PlantStory.RigidFrame(seed, 1, Start);
        var inspected = story.Facts.First(f => f.Event.Type == FactCatalog.Of<CloseUpInspected>().Type);
        var poured = story.Facts.First(f => f.Event.Type == FactCatalog.Of<PourPlaced>().Type);
        var whole = JsonNode.Parse(inspected.Event.Canonical.Span)!.AsObject();
        whole["data"]!["covers"]![0]!["coverIn"] = "1/4";
        var wrong = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(whole));
        await _host.SendAsync(story.Facts.TakeWhile(f => f.ArrivesAt <= poured.ArrivesAt).Select(f => f == inspected ? f with { Event = wrong } : f));
        var at = poured.ArrivesAt.AddHours(1);
        return (story.Units[0], wrong.RecordId, Event(new RecordCorrected(wrong.RecordId, 1, wrong.Type, inspected.Event.Data, "tape read at the wrong bar"), Plant.QualityEngineer, at), at);
    }

    private async Task<Verdict> CoverAsync(string unit, DateTimeOffset at) =>
        (await _host.JudgeAsync(unit, at)).Findings.Where(f => f.Requirement == "close-up.cover").Select(f => f.Verdict).Contains(Verdict.NotMet) ? Verdict.NotMet : Verdict.Met;

    [Fact]
    public async Task What_opens_something_by_saying_it_anew_waits_for_a_second_person_and_the_old_verdict_stands_until_then()
    {
        var (unit, _, correction, at) = await PouredOnABadCoverAsync(81);
        var receipt = await SendAsync(correction, await SignOnAsync(Plant.QualityEngineer, Plant.Office.Device));
        Assert.Equal("weighing", Status(receipt));
        await PlantHost.EventuallyAsync(async () => await _host.ScalarAsync("select count(*) from trace.quarantine where waits_for = 'second'") == 1, "weighed");
        Assert.Equal(Verdict.NotMet, await CoverAsync(unit, at));

        using var engineer = await _host.SignInAsync(Plant.QualityEngineer);
        using var foreman = await _host.SignInAsync(Plant.CageForeman);
        using var deputy = await _host.SignInAsync(Plant.DeputyEngineer);
        Assert.Empty((await engineer.GetFromJsonAsync<JsonElement>("/v1/approvals")).EnumerateArray());
        var waiting = Assert.Single((await deputy.GetFromJsonAsync<JsonElement>("/v1/approvals")).EnumerateArray());
        Assert.Contains("close-up.cover", waiting.GetProperty("reason").GetString(), StringComparison.Ordinal);
        var door = $"/v1/approvals/{waiting.GetProperty("id").GetString()}/approvals";
        var contentHash = waiting.GetProperty("contentHash").GetString();

        Assert.Equal((HttpStatusCode.Forbidden, "/problems/second-approver"), await PostAsync(engineer, door, new { contentHash, pin = Pin(Plant.QualityEngineer) }));
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/who-may"), await PostAsync(foreman, door, new { contentHash, pin = Pin(Plant.CageForeman) }));
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/pin"), await PostAsync(deputy, door, new { contentHash, pin = "271828" }));
        Assert.Equal(Verdict.NotMet, await CoverAsync(unit, at));

        Assert.Equal((HttpStatusCode.Created, "recorded"), await PostAsync(deputy, door, new { contentHash, pin = Pin(Plant.DeputyEngineer) }));
        Assert.Equal(1, await _host.ScalarAsync($"select count(*) from trace.quarantine where cleared_by = '{Plant.DeputyEngineer.Id}'"));
        Assert.Equal(Verdict.Met, await CoverAsync(unit, at));
        Assert.Equal(1, await _host.ScalarAsync("select count(*) from trace.record where type = 'record.corrected.v1' and convert_from(bytes, 'UTF8') like '%approved by p-113 with the PIN%'"));
    }

    [Fact]
    public async Task Refused_by_the_second_person_it_never_counts()
    {
        var (unit, _, correction, at) = await PouredOnABadCoverAsync(82);
        await SendAsync(correction, await SignOnAsync(Plant.QualityEngineer, Plant.Office.Device));
        await PlantHost.EventuallyAsync(async () => await _host.ScalarAsync("select count(*) from trace.quarantine where waits_for = 'second'") == 1, "weighed");
        using var deputy = await _host.SignInAsync(Plant.DeputyEngineer);
        var waiting = Assert.Single((await deputy.GetFromJsonAsync<JsonElement>("/v1/approvals")).EnumerateArray());

        Assert.Equal(HttpStatusCode.Created, (await PostAsync(deputy, $"/v1/approvals/{waiting.GetProperty("id").GetString()}/refusals",
            new { contentHash = waiting.GetProperty("contentHash").GetString(), pin = Pin(Plant.DeputyEngineer), reason = "the tape is on the photograph" })).Status);

        Assert.Equal(Verdict.NotMet, await CoverAsync(unit, at));
        Assert.Equal(0, await RecordsAsync("record.corrected.v1"));
    }

    [Fact]
    public async Task A_correction_for_the_worse_acts_at_once()
    {
        var story = PlantStory.RigidFrame(83, 1, Start);
        var inspected = story.Facts.First(f => f.Event.Type == FactCatalog.Of<CloseUpInspected>().Type);
        await _host.SendAsync(story.Facts.TakeWhile(f => f.ArrivesAt <= inspected.ArrivesAt));
        var worse = JsonNode.Parse(inspected.Event.Data.GetRawText())!.AsObject();
        worse["covers"]![0]!["coverIn"] = "1/4";
        var at = inspected.ArrivesAt.AddDays(2);

        await SendAsync(Event(new RecordCorrected(inspected.Event.RecordId, 1, inspected.Event.Type, JsonSerializer.SerializeToElement(worse), "read again"), Plant.QualityEngineer, at), await SignOnAsync(Plant.QualityEngineer, Plant.Office.Device));

        await PlantHost.EventuallyAsync(async () => await RecordsAsync("record.corrected.v1") == 1, "recorded");
        Assert.Equal(Verdict.NotMet, await CoverAsync(story.Units[0], at));
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.quarantine where cleared_at is null"));
    }

    [Fact]
    public async Task A_certificate_that_comes_before_anything_was_poured_counts_at_once_and_one_that_opens_a_poured_unit_waits()
    {
        var story = PlantStory.RigidFrame(84, 1, Start);
        var certified = story.Facts.First(f => f.Event.Type == FactCatalog.Of<LotCertified>().Type);
        var poured = story.Facts.First(f => f.Event.Type == FactCatalog.Of<PourPlaced>().Type);
        using var stations = _host.Stations();
        await _host.SendAsync(story.Facts.TakeWhile(f => f.ArrivesAt <= poured.ArrivesAt).Where(f => f != certified));
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.quarantine"));

        Assert.Equal("weighing", (await stations.SendAsync(certified.Device, [certified.Event], CancellationToken.None))[0].Status);
        await PlantHost.EventuallyAsync(async () => await _host.ScalarAsync("select count(*) from trace.quarantine where waits_for = 'second'") == 1, "weighed");

        // The quality engineer scheduled the unit, and the deputy did not.
        using var engineer = await _host.SignInAsync(Plant.QualityEngineer);
        using var deputy = await _host.SignInAsync(Plant.DeputyEngineer);
        var waiting = Assert.Single((await deputy.GetFromJsonAsync<JsonElement>("/v1/approvals")).EnumerateArray());
        var (door, contentHash) = ($"/v1/approvals/{waiting.GetProperty("id").GetString()}/approvals", waiting.GetProperty("contentHash").GetString());
        Assert.NotEqual(Plant.QualityEngineer.Id, certified.Event.Person);
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/second-approver"), await PostAsync(engineer, door, new { contentHash, pin = Pin(Plant.QualityEngineer) }));
        Assert.Equal((HttpStatusCode.Created, "recorded"), await PostAsync(deputy, door, new { contentHash, pin = Pin(Plant.DeputyEngineer) }));
    }

    [Fact]
    public async Task A_correction_whose_record_has_not_come_waits_for_it_and_holds_up_no_other()
    {
        var story = PlantStory.RigidFrame(85, 1, Start);
        var inspected = story.Facts.First(f => f.Event.Type == FactCatalog.Of<CloseUpInspected>().Type);
        var token = await SignOnAsync(Plant.QualityEngineer, Plant.Office.Device);
        JsonObject Corrected(Guid record) => Event(new RecordCorrected(record, 1, inspected.Event.Type, inspected.Event.Data, "read again"), Plant.QualityEngineer);
        for (var i = 0; i < 60; i++) await SendAsync(Corrected(Guid.NewGuid()), token);
        await PlantHost.EventuallyAsync(async () => await _host.ScalarAsync("select count(*) from trace.quarantine where waits_for = 'record'") == 60, "all wait for their records");
        var early = Corrected(inspected.Event.RecordId);
        await SendAsync(early, token);
        await PlantHost.EventuallyAsync(async () => await _host.ScalarAsync("select count(*) from trace.quarantine where waits_for = 'record'") == 61, "it waits for its record");

        await _host.SendAsync(story.Facts.TakeWhile(f => f.ArrivesAt <= inspected.ArrivesAt));

        await PlantHost.EventuallyAsync(async () => await RecordsAsync("record.corrected.v1") == 1, "recorded once its record came");
        Assert.Equal(60, await _host.ScalarAsync("select count(*) from trace.quarantine where waits_for = 'record' and cleared_at is null"));
    }

    [Fact]
    public async Task A_held_back_act_that_an_administrator_clears_becomes_a_claim_and_counts_only_by_its_person()
    {
        // Of a person who does not have the role: the administrator cannot make an engineer's word of it.
        await SendAsync(Event(new NoticeGiven(["U-1"], HoldKind.Pour, Start.AddDays(2), "message 5"), Plant.CageForeman));
        var id = (await QuarantinedAsync()).Id;
        using var administrator = await _host.SignInAsync(Plant.Administrator);
        using var foreman = await _host.SignInAsync(Plant.CageForeman);

        using var cleared = await administrator.PostAsJsonAsync($"/v1/quarantine/{id}/clear", new { contentHash = (await QuarantinedAsync()).Hash });
        Assert.Equal("claimed", (await cleared.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("status").GetString());
        Assert.Equal(0, await RecordsAsync("notice.given.v1"));

        var claim = Assert.Single((await foreman.GetFromJsonAsync<JsonElement>("/v1/claims")).EnumerateArray());
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/who-may"), await PostAsync(foreman, $"/v1/claims/{id}/confirmations", new { contentHash = claim.GetProperty("contentHash").GetString(), pin = Pin(Plant.CageForeman) }));
        Assert.Equal(0, await RecordsAsync("notice.given.v1"));
    }

    private async Task<(Guid Id, string Hash)> QuarantinedAsync()
    {
        await using var command = _host.Database.CreateCommand("select id, content_hash from trace.quarantine");
        await using var row = await command.ExecuteReaderAsync();
        Assert.True(await row.ReadAsync());
        return (row.GetGuid(0), row.GetString(1));
    }
}
