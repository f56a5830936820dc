using System.Net;
using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.People;

/// <summary>Every change of people, roles, secrets and devices is a record, by id and never by name.</summary>
public sealed class Authority_in_the_log : AdministeredPlant
{
    private async Task<JsonElement> PostAsync(HttpClient http, string path, object body)
    {
        using var answer = await http.PostAsJsonAsync("/v1/" + path, body);
        Assert.True(answer.IsSuccessStatusCode, $"{path}: {answer.StatusCode} {await answer.Content.ReadAsStringAsync()}");
        return answer.StatusCode == HttpStatusCode.NoContent ? default : await answer.Content.ReadFromJsonAsync<JsonElement>();
    }

    private async Task<List<(string Type, string? Person, string Assurance, string Bytes)>> RecordsAsync()
    {
        var records = new List<(string, string?, string, string)>();
        await using var command = Host.Database.CreateCommand("select bytes from trace.record order by position");
        await using var rows = await command.ExecuteReaderAsync();
        while (await rows.ReadAsync())
        {
            var bytes = rows.GetFieldValue<byte[]>(0);
            var record = Traceability.Core.Records.Record.Read(bytes, 1);
            records.Add((record.Type, record.Person, record.Sent.Assurance ?? "", System.Text.Encoding.UTF8.GetString(bytes)));
        }

        return records;
    }

    [Fact]
    public async Task Each_change_of_people_secrets_and_devices_is_recorded_in_order_with_its_person_and_without_a_name()
    {
        var pin = Host.Credentials.Person(Plant.Administrator.Id).Pin;
        var given = await PostAsync(Administrator, "people", new { id = "p-120", displayName = "Quiet Heron", roles = new[] { "laboratory" } });
        var password = given.GetProperty("password").GetString()!;
        using (var own = new HttpClient { BaseAddress = Host.Address })
        {
            await PostAsync(own, "sign-in", new { person = "p-120", password });
            await PostAsync(own, "people/p-120/own-secrets", new { password, newPassword = "wet gravel at seven", newPin = "31415926" });
        }

        await PostAsync(Administrator, "people/p-120/roles", new { roles = new[] { "yard" }, pin });
        await PostAsync(Administrator, "people/p-120/end-sessions", new { pin });
        await PostAsync(Administrator, "people/p-120/lapse", new { pin });
        await PostAsync(Administrator, "people/p-120/lapse", new { pin });
        await PostAsync(Administrator, "people/p-120/secrets", new { pin });
        await PostAsync(Administrator, "people/p-120/erasure", new { pin });
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var code = (await PostAsync(Administrator, "devices/codes", new { roles = new[] { "yard" } })).GetProperty("code").GetString();
        var device = (await PostAsync(Administrator, "devices/enrol", new { code, name = "Yard kiosk", publicKey = Convert.ToBase64String(key.ExportSubjectPublicKeyInfo()) })).GetProperty("deviceId").GetString()!;
        await PostAsync(Administrator, $"devices/{device}/sources", new { sources = new[] { "/kiosk/" + device, "/kiosk/yard" } });
        await PostAsync(Administrator, $"devices/{device}/revocation", new { pin });

        var records = await RecordsAsync();
        var by = Plant.Administrator.Id;
        Assert.Equal(
            [
                ("person.registered.v1", by, "session"), ("secret.chosen.v1", "p-120", "password"), ("person.roles-set.v1", by, "pin"), ("person.sessions-ended.v1", by, "pin"), ("person.roles-ended.v1", by, "pin"), ("secret.given.v1", by, "pin"),
                ("person.erased.v1", by, "pin"), ("device.enrolled.v1", by, "code"), ("device.tied.v1", by, "session"), ("device.revoked.v1", by, "pin"),
            ],
            records.Select(r => (r.Type, r.Person!, r.Assurance)));
        Assert.All(records, r => Assert.DoesNotContain("Heron", r.Bytes, StringComparison.Ordinal));
        Assert.All(records, r => Assert.DoesNotContain(password, r.Bytes, StringComparison.Ordinal));

        // The page of a review says each, in words.
        using var engineer = await Host.SignInAsync(Plant.QualityEngineer);
        var page = WebUtility.HtmlDecode(await engineer.GetStringAsync(new Uri("/integrity", UriKind.Relative)));
        Assert.Contains("Changes of people, roles, secrets and devices: 10", page, StringComparison.Ordinal);
        Assert.Contains($"{by} gave p-120 the roles yard in the place of laboratory.", page, StringComparison.Ordinal);
        Assert.Contains($"{by} revoked {device}.", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_change_that_cannot_be_recorded_is_not_made()
    {
        await using (var refuse = Host.Database.CreateCommand("""
            create function trace.refuse() returns trigger language plpgsql as $$ begin raise exception 'no record'; end $$;
            create trigger refuse before insert on trace.record for each row execute function trace.refuse();
            """)) await refuse.ExecuteNonQueryAsync();

        using var answer = await Administrator.PostAsJsonAsync("/v1/people", new { id = "p-121", displayName = "Quiet Heron", roles = new[] { "yard" } });
        Assert.False(answer.IsSuccessStatusCode);
        Assert.Null(Host.Services.GetRequiredService<Register>().Person("p-121"));
        Assert.Equal(0, await Host.ScalarAsync("select count(*) from marten.mt_doc_person where id = 'p-121'"));
    }

    [Fact]
    public async Task What_was_refused_leaves_no_record()
    {
        foreach (var path in new[] { "people/p-105/roles", "people/p-105/lapse", "people/p-105/secrets", "people/p-105/erasure", "devices/cage-1/revocation" })
        {
            using var answer = await Administrator.PostAsJsonAsync("/v1/" + path, new { roles = new[] { "yard" }, pin = "000000" });
            Assert.Equal(HttpStatusCode.Forbidden, answer.StatusCode);
        }

        Assert.Equal(0, await Host.ScalarAsync("select count(*) from trace.record"));
    }
}
