using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Pages;

/// <summary>A quarantined or parked fact is never lost, never counts until it is let through, and then counts once.</summary>
public sealed class Facts_set_apart
{
    private static CloudEvent Oiled(string id, string person, string type = "form.oiled.v1", string agent = "Water-based release agent") =>
        CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
        {
            specversion = "1.0", id, source = "/plant/form-1", type, time = "2026-03-02T09:30:00-05:00", datacontenttype = "application/json", person,
            data = new { form = "RF-FORM-1", unit = "RF-0001", releaseAgent = agent },
        }));

    private static async Task<string> SendAsync(PlantHost host, CloudEvent fact)
    {
        using var http = new HttpClient();
        var content = new ByteArrayContent(fact.Canonical.ToArray());
        content.Headers.ContentType = new("application/cloudevents+json");
        using var answer = await http.SendAsync(host.DeviceRequest(HttpMethod.Post, "v1/facts", Plant.FormHall.Device, content));
        return (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("status").GetString()!;
    }

    private static async Task ExecuteAsync(PlantHost host, string sql)
    {
        await using var command = host.Database.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }

    private static Task<HttpResponseMessage> ClearAsync(HttpClient http, CloudEvent fact, string? hash = null) =>
        http.PostAsJsonAsync($"/v1/quarantine/{fact.RecordId}/clear", new { contentHash = hash ?? fact.ContentHash });

    [Fact]
    public async Task A_cleared_fact_counts_from_then_on_and_says_who_cleared_it()
    {
        await using var host = await PlantHost.StartAsync();
        var fact = Oiled("o-1", Plant.CageForeman.Id);
        Assert.Equal("quarantined", await SendAsync(host, fact));
        Assert.Empty((await host.DossierAsync("RF-0001")).Records);
        using var inspector = await host.SignInAsync(Plant.QualityEngineer);
        using var administrator = await host.SignInAsync(Plant.Administrator);
        Assert.Equal(HttpStatusCode.Forbidden, (await ClearAsync(inspector, fact)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await ClearAsync(administrator, fact, new string('0', 64))).StatusCode);

        var cleared = await ClearAsync(administrator, fact);

        Assert.Equal(HttpStatusCode.OK, cleared.StatusCode);
        var record = Assert.Single((await host.DossierAsync("RF-0001")).Records);
        Assert.Equal(fact.RecordId, record.Id);
        Assert.Equal(fact.ContentHash, record.Sent.ContentHash);
        Assert.Equal($"intake, cleared by {Plant.Administrator.Id}", record.Assurance);
        Assert.Equal(HttpStatusCode.Conflict, (await ClearAsync(administrator, fact)).StatusCode);
        await host.SettleAsync(1);
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.log_leaf"));
        // The station asks again and learns that it is recorded.
        using var receipts = await administrator.PostAsJsonAsync("/v1/receipts", new[] { new { source = fact.Source, id = fact.Id } });
        Assert.Equal("recorded", (await receipts.Content.ReadFromJsonAsync<JsonElement>())[0].GetProperty("status").GetString());
    }

    [Fact]
    public async Task A_cleared_fact_whose_id_was_taken_meanwhile_is_recorded_as_a_conflict()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var wrong = Oiled("o-2", Plant.CageForeman.Id);
        Assert.Equal("quarantined", await SendAsync(host, wrong));
        await host.AddAsync("web");
        Assert.Equal("recorded", await SendAsync(host, Oiled("o-2", Plant.FormForeman.Id)));
        using var administrator = await host.SignInAsync(Plant.Administrator);

        using var answer = await ClearAsync(administrator, wrong);

        Assert.Equal("conflict", (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("status").GetString());
        Assert.Equal(1, await host.ScalarAsync($"select count(*) from trace.record where conflict_of = '{wrong.RecordId}'"));
    }

    [Fact]
    public async Task A_fact_that_this_version_cannot_read_stays_in_quarantine_whole()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var future = Oiled("o-3", Plant.FormForeman.Id, "form.oiled.v9");
        Assert.Equal("quarantined", await SendAsync(host, future));
        using var administrator = await host.SignInAsync(Plant.Administrator);

        using var answer = await ClearAsync(administrator, future);

        Assert.Equal(HttpStatusCode.Conflict, answer.StatusCode);
        Assert.Contains("form.oiled.v9", await answer.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        var kept = Assert.Single(await host.Services.GetRequiredService<Quarantine>().ListAsync(CancellationToken.None));
        Assert.Null(kept.SettledAt);
        Assert.Equal(future.Canonical.ToArray(), kept.Bytes);
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.record"));
    }

    [Fact]
    public async Task The_pages_list_and_clear_as_the_endpoints_do()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var fact = Oiled("o-4", Plant.CageForeman.Id);
        await SendAsync(host, fact);
        using var administrator = await host.SignInAsync(Plant.Administrator);
        Assert.Contains("does not have the role form-crew", (await administrator.PageAsync("/quarantine")).Html, StringComparison.Ordinal);

        using var answer = await administrator.PostFormAsync("/quarantine", "/quarantine", ("id", fact.RecordId.ToString()), ("contentHash", fact.ContentHash));

        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        Assert.Contains("it counts from now on", await answer.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.record"));
    }

    [Fact]
    public async Task A_parked_fact_is_recorded_once_its_cause_is_mended_and_stays_parked_before()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        // A unique index that is not ours makes one fact unrecordable, as a fault in the store would.
        await ExecuteAsync(host, "create unique index fault on trace.record ((1)) where source = '/plant/form-1'");
        Assert.Equal("recorded", await SendAsync(host, Oiled("o-5", Plant.FormForeman.Id)));
        var stuck = Oiled("o-6", Plant.FormForeman.Id);
        Assert.Equal("parked", await SendAsync(host, stuck));
        using var administrator = await host.SignInAsync(Plant.Administrator);
        var path = $"/v1/parked/{stuck.RecordId}/redrive";

        using var still = await administrator.PostAsJsonAsync(path, new { contentHash = stuck.ContentHash });
        Assert.Equal(HttpStatusCode.Conflict, still.StatusCode);
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.parked where redriven_at is null"));
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.record"));

        await ExecuteAsync(host, "drop index trace.fault");
        using var redriven = await administrator.PostAsJsonAsync(path, new { contentHash = stuck.ContentHash });
        Assert.Equal("recorded", (await redriven.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("status").GetString());
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.parked where redriven_at is null"));
        Assert.Contains((await host.DossierAsync("RF-0001")).Records, r => r.Id == stuck.RecordId && r.Assurance == "intake");
        using var twice = await administrator.PostAsJsonAsync(path, new { contentHash = stuck.ContentHash });
        Assert.Equal(HttpStatusCode.Conflict, twice.StatusCode);
    }
}
