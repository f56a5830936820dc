using System.IO.Compression;
using System.Net;
using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Log;
using Traceability.Service.Packets;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Packets;

public sealed class PacketEndpointTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5));

    private static Scenario Story(bool confirmed = true) => PlantStory.RigidFrame(17, [new Casting(3), new Casting(3)], Start, confirmed: confirmed);

    private static Task<HttpResponseMessage> AskAsync(PlantHost host, HttpClient person, bool draft, params string[] units) =>
        person.PostAsJsonAsync("/v1/packets", new { units, draft, pin = Pin(host) });

    private static string Pin(PlantHost host) => host.Credentials.Person(Plant.QualityEngineer.Id).Pin;

    [Fact]
    public async Task A_packet_is_issued_over_http_and_the_verifier_proves_it_with_the_signers_key()
    {
        await using var host = await PlantHost.StartAsync();
        var story = Story();
        await host.SendAsync(story.Facts);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);

        using var answer = await AskAsync(host, engineer, false, story.Units[0]);
        Assert.True(answer.StatusCode == HttpStatusCode.Created, await answer.Content.ReadAsStringAsync());
        var packet = await answer.Content.ReadFromJsonAsync<JsonElement>();
        var id = packet.GetProperty("id").GetString()!;
        Assert.Equal("/v1/packets/" + id, answer.Headers.Location!.ToString());
        Assert.Equal(Plant.QualityEngineer.Id, packet.GetProperty("issuedBy").GetString());
        Assert.True(packet.GetProperty("openItems").GetInt32() >= 0);

        using var handed = await engineer.GetAsync("/v1/packets/" + id);
        Assert.Equal(id + ".zip", handed.Content.Headers.ContentDisposition!.FileName);
        var zip = await handed.Content.ReadAsByteArrayAsync();
        Assert.Equal(packet.GetProperty("sha256").GetString(), Convert.ToHexStringLower(SHA256.HashData(zip)));
        var path = Path.Combine(host.Folder, "packet.zip");
        await File.WriteAllBytesAsync(path, zip);
        using var said = new StringWriter();
        var exit = Verifier.Command.Run([path, "--key", LogKey.PublicFile(Path.Combine(host.Folder, "signer", "log-key.pem"))], said, said);
        Assert.True(exit == Verifier.Command.Ok, said.ToString());

        var pdf = await engineer.GetByteArrayAsync($"/v1/packets/{id}/packet.pdf");
        Assert.Equal("%PDF", Encoding.ASCII.GetString(pdf, 0, 4));
        using var archive = new ZipArchive(new MemoryStream(zip));
        Assert.Equal(8, archive.Entries.Count);
        Assert.Equal(pdf.Length, archive.GetEntry("packet.pdf")!.Length);

        var listed = await engineer.GetFromJsonAsync<JsonElement>("/v1/packets?unit=" + story.Units[0]);
        Assert.Equal(id, Assert.Single(listed.EnumerateArray()).GetProperty("id").GetString());
    }

    [Fact]
    public async Task The_packet_carries_the_judgement_that_the_unit_page_shows()
    {
        await using var host = await PlantHost.StartAsync();
        var story = Story();
        await host.SendAsync(story.Facts);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);

        using var answer = await AskAsync(host, engineer, false, [.. story.Units]);
        var packet = await answer.Content.ReadFromJsonAsync<JsonElement>();
        using var archive = new ZipArchive(new MemoryStream(await engineer.GetByteArrayAsync("/v1/packets/" + packet.GetProperty("id").GetString())));
        using var manifest = JsonDocument.Parse(archive.GetEntry("manifest.json")!.Open());

        foreach (var unit in story.Units)
        {
            var now = await engineer.GetFromJsonAsync<JsonElement>("/v1/units/" + unit);
            Assert.Equal(now.GetProperty("judgement").GetString(), manifest.RootElement.GetProperty("judgedInPlant").GetProperty(unit).GetString());
        }
    }

    [Fact]
    public async Task A_signer_in_another_process_part_signs_it()
    {
        await using var host = await PlantHost.StartAsync(false, ["web,worker", "signer"]);
        var story = Story();
        await host.SendAsync(story.Facts);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);

        using var answer = await AskAsync(host, engineer, false, story.Units[1]);

        Assert.True(answer.StatusCode == HttpStatusCode.Created, await answer.Content.ReadAsStringAsync());
        Assert.Null(host.Services.GetService<LogSigner>());
    }

    [Fact]
    public async Task Limits_nobody_confirmed_refuse_it_with_every_reason_and_allow_a_draft()
    {
        await using var host = await PlantHost.StartAsync();
        var story = Story(confirmed: false);
        await host.SendAsync(story.Facts);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        using var refused = await AskAsync(host, engineer, false, story.Units[0]);
        Assert.Equal(HttpStatusCode.Conflict, refused.StatusCode);
        var problem = await refused.Content.ReadFromJsonAsync<JsonElement>();
        Assert.True(problem.GetProperty("errors").GetArrayLength() > 10);
        Assert.All(problem.GetProperty("errors").EnumerateArray(), e => Assert.Contains("not confirmed against a page", e.GetProperty("limit").GetString(), StringComparison.Ordinal));

        using var draft = await AskAsync(host, engineer, true, story.Units[0]);
        Assert.Equal(HttpStatusCode.Created, draft.StatusCode);
        var id = (await draft.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("id").GetString();
        using var handed = await engineer.GetAsync($"/v1/packets/{id}/packet.pdf");
        Assert.Equal($"DRAFT-{id}.pdf", handed.Content.Headers.ContentDisposition!.FileName);
    }

    [Fact]
    public async Task Only_the_quality_engineer_issues_and_only_the_signed_on_read()
    {
        await using var host = await PlantHost.StartAsync();
        using var inspector = await host.SignInAsync(Plant.Inspector);
        using var administrator = await host.SignInAsync(Plant.Administrator);
        using var auditor = await host.SignInAsync(Plant.Auditor);
        using var nobody = new HttpClient { BaseAddress = host.Address };

        foreach (var person in new[] { inspector, administrator, auditor })
        {
            using var answer = await AskAsync(host, person, false, "RF-0001");
            Assert.Equal(HttpStatusCode.Forbidden, answer.StatusCode);
        }

        using var unsigned = await AskAsync(host, nobody, false, "RF-0001");
        Assert.Equal(HttpStatusCode.Unauthorized, unsigned.StatusCode);
        foreach (var path in new[] { "/v1/packets", "/v1/packets/PK-1", "/v1/packets/PK-1/packet.pdf" })
        {
            using var answer = await nobody.GetAsync(path);
            Assert.Equal(HttpStatusCode.Unauthorized, answer.StatusCode);
        }

        using var listed = await auditor.GetAsync("/v1/packets");
        Assert.Equal(HttpStatusCode.OK, listed.StatusCode);
        using var unknown = await auditor.GetAsync("/v1/packets/PK-1");
        Assert.Equal(HttpStatusCode.NotFound, unknown.StatusCode);
    }

    [Fact]
    public async Task An_unknown_unit_and_a_request_without_units_are_refused_by_field()
    {
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(Story().Facts.Take(8));
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);

        using var unknown = await AskAsync(host, engineer, false, "RF-9999");
        Assert.Equal(HttpStatusCode.Conflict, unknown.StatusCode);
        Assert.Contains("RF-9999", await unknown.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        using var none = await AskAsync(host, engineer, false);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, none.StatusCode);
    }

    [Fact]
    public async Task The_signer_signs_no_bytes_but_a_manifest_of_a_log_it_signed()
    {
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(Story().Facts.Take(8));
        await host.SettleAsync(8);
        var store = host.Services.GetRequiredService<PacketStore>();
        var offered = new Dictionary<string, string>
        {
            ["note"] = "test.example/log\n9\nAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n",
            ["other"] = """{"format":"traceability-packet/1"}""",
            ["root"] = """{"format":"traceability-packet/1","log":{"origin":"test.example/log","root":"00","size":8}}""",
        };

        foreach (var (name, bytes) in offered) await store.OfferAsync(name, Encoding.UTF8.GetBytes(bytes), CancellationToken.None);

        foreach (var name in offered.Keys)
        {
            await PlantHost.EventuallyAsync(async () => (await store.AnswerAsync(name, CancellationToken.None)).Refused is not null, $"refusal of {name}");
            Assert.Null((await store.AnswerAsync(name, CancellationToken.None)).Signature);
        }
    }
}
