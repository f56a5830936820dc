using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using CloudNative.CloudEvents;
using CloudNative.CloudEvents.SystemTextJson;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;
using CloudEvent = CloudNative.CloudEvents.CloudEvent;

namespace Traceability.Service.Tests.Intake;

/// <summary>Facts by the CloudEvents SDK of its own project and by hand, as stations that are not ours send them.</summary>
public sealed class Facts_from_outside : OutsideTest
{
    [Fact]
    public async Task A_client_with_the_CloudEvents_SDK_posts_single_and_batch_and_reads_the_unit()
    {
        var engineer = Host.Credentials.Person("p-101");
        using var signOn = await Http.SendAsync(Host.DeviceRequest(HttpMethod.Post, "/v1/kiosk/sign-on", "office-1", JsonContent.Create(new { person = engineer.Id, pin = engineer.Pin })));
        var token = (await signOn.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("token").GetString();
        var single = Event("s-1", "unit.scheduled.v1", Scheduled("OUT-1"), engineer.Id);
        var response = await PostAsync(new JsonEventFormatter().EncodeStructuredModeMessage(single, out var type), type.ToString(), token: token);
        Assert.Equal(HttpStatusCode.Created, response.StatusCode);

        var batch = new JsonEventFormatter().EncodeBatchModeMessage([Event("s-2", "unit.scheduled.v1", Scheduled("OUT-2"), engineer.Id), single], out var batchType);
        var receipts = await (await PostAsync(batch, batchType.ToString(), token: token)).Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal(["recorded", "duplicate"], receipts.EnumerateArray().Select(r => r.GetProperty("status").GetString()));

        var unit = await Host.GetAsync("/v1/units/OUT-2");
        Assert.Equal("F-1", unit.GetProperty("scheduled").GetProperty("mark").GetString());
    }

    [Fact]
    public async Task White_space_and_order_of_names_make_no_other_content()
    {
        var first = """{"specversion":"1.0","id":"w-1","source":"/x","type":"form.oiled.v1","time":"2026-03-02T09:30:00-05:00","data":{"form":"F","unit":"W-1","releaseAgent":"A"}}""";
        var again = """{ "data": {"releaseAgent":"A","unit":"W-1","form":"F"}, "time":"2026-03-02T09:30:00-05:00", "type":"form.oiled.v1", "source":"/x", "id":"w-1", "specversion":"1.0" }""";
        Assert.Equal(HttpStatusCode.Created, (await PostAsync(Encoding.UTF8.GetBytes(first), Single, "form-1")).StatusCode);
        var response = await PostAsync(Encoding.UTF8.GetBytes(again), Single, "form-1");
        Assert.Equal(HttpStatusCode.OK, response.StatusCode);
        Assert.Equal("duplicate", (await response.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("status").GetString());
    }

    [Fact]
    public async Task Other_content_under_a_known_id_is_refused_with_409_and_recorded_as_a_conflict_by_another_intake()
    {
        await PostAsync(Oiled("c-1", "agent A"), Single, "form-1");
        var refused = await PostAsync(Oiled("c-1", "agent B"), Single, "form-1");
        Assert.Equal(HttpStatusCode.Conflict, refused.StatusCode);
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.record where conflict_of is not null"));

        await Host.AddAsync("web");
        var late = await PostAsync(Oiled("c-1", "agent B"), Single, "form-1");
        Assert.Equal("conflict", (await late.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("status").GetString());
        Assert.Equal(1, await Host.ScalarAsync("select count(*) from trace.record where conflict_of is not null"));
        var receipts = await (await Http.SendAsync(Host.DeviceRequest(HttpMethod.Post, "/v1/receipts", "form-1", JsonContent.Create(new[] { new { source = "/x", id = "c-1" } })))).Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal("conflict", receipts[0].GetProperty("status").GetString());
    }

    [Theory]
    [InlineData("{\"specversion\":\"1.0\"", 400, "not JSON")]
    [InlineData("{\"specversion\":\"1.0\",\"id\":\"b\",\"source\":\"/x\",\"type\":\"form.oiled.v1\",\"time\":\"2026-03-02T09:30:00\",\"data\":{}}", 422, "time")]
    [InlineData("{\"specversion\":\"1.0\",\"id\":\"b\",\"source\":\"/x\",\"type\":\"form.oiled.v1\",\"time\":\"2026-03-02T09:30:00Z\",\"data\":{\"form\":\"F\",\"unit\":\"U\",\"releaseAgent\":\"A\",\"extra\":1}}", 422, "data.extra")]
    [InlineData("{\"specversion\":\"1.0\",\"id\":\"b\",\"source\":\"/x\",\"type\":\"form.oiled.v1\",\"time\":\"2026-03-02T09:30:00Z\",\"data\":{\"form\":\"F\",\"releaseAgent\":\"A\"}}", 422, "unit")]
    public async Task A_malformed_fact_is_refused_and_the_problem_names_the_field(string body, int status, string names)
    {
        var response = await PostAsync(Encoding.UTF8.GetBytes(body), Single, "form-1");
        var text = await response.Content.ReadAsStringAsync();
        Assert.Equal(status, (int)response.StatusCode);
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType?.MediaType);
        Assert.Contains(names, text, StringComparison.OrdinalIgnoreCase);
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.record"));
    }

    [Fact]
    public async Task Without_credentials_or_with_a_wrong_key_nothing_is_taken_in()
    {
        using var content = new ByteArrayContent(Oiled("n-1", "A")) { Headers = { ContentType = new(Single) } };
        Assert.Equal(HttpStatusCode.Unauthorized, (await Http.PostAsync(new Uri(Host.Address, "/v1/facts"), content)).StatusCode);
        var request = Host.DeviceRequest(HttpMethod.Post, "/v1/facts", "form-1", new ByteArrayContent(Oiled("n-1", "A")) { Headers = { ContentType = new(Single) } });
        request.Headers.Remove("X-Device-Key");
        request.Headers.Add("X-Device-Key", "wrong");
        Assert.Equal(HttpStatusCode.Unauthorized, (await Http.SendAsync(request)).StatusCode);
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.record"));
    }

    [Theory]
    [InlineData("form.oiled.v0", null, "version")]
    [InlineData("form.oiled.v1", "p-999", "not in the register")]
    [InlineData("form.oiled.v1", "p-111", "does not have the role")]
    public async Task A_fact_of_an_old_schema_or_of_a_person_without_the_role_is_quarantined_and_does_not_count(string type, string? person, string why)
    {
        var sent = JsonSerializer.SerializeToUtf8Bytes(new { specversion = "1.0", id = "q-1", source = "/x", type, time = "2026-03-02T09:30:00Z", person, data = new { form = "F", unit = "Q-1", releaseAgent = "A" } },
            new JsonSerializerOptions { DefaultIgnoreCondition = System.Text.Json.Serialization.JsonIgnoreCondition.WhenWritingNull });
        var response = await PostAsync(sent, Single, "form-1");
        Assert.Equal(HttpStatusCode.Accepted, response.StatusCode);
        var receipt = await response.Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal("quarantined", receipt.GetProperty("status").GetString());
        Assert.Contains(why, receipt.GetProperty("problem").GetProperty("detail").GetString(), StringComparison.Ordinal);
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.record"));
        Assert.Equal(1, await Host.ScalarAsync("select count(*) from trace.quarantine"));
    }

    [Fact]
    public async Task A_release_cannot_be_sent_as_a_fact()
    {
        var sent = JsonSerializer.SerializeToUtf8Bytes(new { specversion = "1.0", id = "r-1", source = "/x", type = "pour.released.v1", time = "2026-03-02T09:30:00Z", data = new { unit = "U", basis = new { position = 1, judgementHash = "x", rules = "x" } } });
        var response = await PostAsync(sent, Single, "inspection-1");
        Assert.Equal(HttpStatusCode.UnprocessableEntity, response.StatusCode);
        Assert.Contains("decision", await response.Content.ReadAsStringAsync(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_entry_that_the_database_cannot_take_is_parked_alone_and_its_neighbours_are_recorded()
    {
        var recorder = Host.Services.GetRequiredService<Recorder>();
        var good = Enumerable.Range(0, 9).Select(i => Oiled($"p-{i}", "A")).ToList();
        // A type that this store cannot name: intake quarantines it; handed over all the same it must not spoil its batch.
        var bad = Encoding.UTF8.GetBytes("""{"specversion":"1.0","id":"p-bad","source":"/x","type":"form.unknown.v1","time":"2026-03-02T09:30:00Z","data":{}}""");
        var entries = good.Take(4).Append(bad).Concat(good.Skip(4)).Select(b => new Received(CanonicalJson.Canonicalize(b), "form-1", "intake", DateTimeOffset.UnixEpoch)).ToList();

        var outcomes = await recorder.RecordAsync(entries, CancellationToken.None);

        Assert.Equal(9, outcomes.Count(o => o.Status == EntryStatus.Recorded));
        Assert.Equal(EntryStatus.Parked, outcomes[4].Status);
        Assert.Equal(1, await Host.ScalarAsync("select count(*) from trace.parked"));
        Assert.Equal(9, await Host.ScalarAsync("select count(*) from trace.record"));
    }

    [Fact]
    public async Task What_was_recorded_keeps_its_receipt_when_its_sender_may_no_longer_send()
    {
        var recorder = Host.Services.GetRequiredService<Recorder>();
        var entry = new Received(CanonicalJson.Canonicalize(Oiled("k-1", "A")), "form-1", "intake", DateTimeOffset.UnixEpoch);
        var first = (await recorder.RecordAsync([entry], CancellationToken.None))[0];

        var again = (await recorder.RecordAsync([entry with { Quarantine = "device form-1 was revoked" }], CancellationToken.None))[0];

        Assert.Equal(EntryStatus.Duplicate, again.Status);
        Assert.Equal(first.Position, again.Position);
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.quarantine"));
    }

    [Fact]
    public async Task No_station_sends_under_the_services_own_source()
    {
        var sent = JsonSerializer.SerializeToUtf8Bytes(new { specversion = "1.0", id = "r-2", source = Recorder.DecisionsSource, type = "form.oiled.v1", time = "2026-03-02T09:30:00Z", data = new { form = "F", unit = "U", releaseAgent = "A" } });
        var response = await PostAsync(sent, Single, "form-1");
        Assert.Equal(HttpStatusCode.UnprocessableEntity, response.StatusCode);
        Assert.Contains("source", await response.Content.ReadAsStringAsync(), StringComparison.Ordinal);
    }

    private static object Scheduled(string unit) => new { unit, mark = "F-1", contract = "C-1", drawing = "D-1", revision = "A", mix = "M-1", form = "FM-1", pourOn = "2026-03-04" };

    private static CloudEvent Event(string id, string type, object data, string person) => new(CloudEventsSpecVersion.V1_0)
    {
        ["person"] = person,
        Id = id,
        Source = new Uri("/outside", UriKind.Relative),
        Type = type,
        Time = new DateTimeOffset(2026, 3, 2, 9, 30, 0, TimeSpan.FromHours(-5)),
        DataContentType = "application/json",
        Data = data,
    };

    private static byte[] Oiled(string id, string agent) => JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id, source = "/x", type = "form.oiled.v1", time = "2026-03-02T09:30:00-05:00", data = new { form = "F", unit = "P-1", releaseAgent = agent },
    });
}
