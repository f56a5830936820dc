using System.Diagnostics;
using System.IO.Compression;
using System.Net;
using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Org.BouncyCastle.Crypto.Digests;
using Org.BouncyCastle.Crypto.Parameters;
using Org.BouncyCastle.Crypto.Signers;
using Org.BouncyCastle.Security;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Log;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.People;

/// <summary>What a device signs of a fact stays with its record, and whoever has the record can check it.</summary>
public sealed class Device_signatures
{
    private static Task<string> RecordOfAsync(PlantHost host, CloudEvent entry) => host.TextAsync($"select convert_from(bytes, 'UTF8') from trace.record where id = '{entry.RecordId}'");

    [Fact]
    public async Task It_is_checked_with_the_key_of_the_enrollment_record_by_a_library_that_shares_no_code_with_the_kiosk()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var entry = kiosk.Entries(1)[0];
        Assert.Equal(HttpStatusCode.Created, await kiosk.PostOneAsync(kiosk.Signed(entry)));

        using var record = JsonDocument.Parse(await RecordOfAsync(host, entry));
        using var enrolled = JsonDocument.Parse(await host.TextAsync("select convert_from(bytes, 'UTF8') from trace.record where type = 'device.enrolled.v1'"));
        var key = enrolled.RootElement.GetProperty("fact").GetProperty("data");
        var signature = record.RootElement.GetProperty("signature");
        Assert.Equal(key.GetProperty("keySha256").GetString(), signature.GetProperty("key").GetString());
        var spki = Convert.FromBase64String(key.GetProperty("publicKey").GetString()!);
        Assert.Equal(signature.GetProperty("key").GetString(), Convert.ToHexStringLower(SHA256.HashData(spki)));

        var content = SHA256.HashData(Encoding.UTF8.GetBytes(record.RootElement.GetProperty("fact").GetRawText()));
        // FIPS 186-5 as Bouncy Castle has it.
        var verifier = new DsaDigestSigner(new ECDsaSigner(), new Sha256Digest(), PlainDsaEncoding.Instance);
        verifier.Init(false, (ECPublicKeyParameters)PublicKeyFactory.CreateKey(spki));
        byte[] text = [.. Encoding.UTF8.GetBytes($"traceability fact v1\n{Convert.ToHexStringLower(content)}\n")];
        verifier.BlockUpdate(text, 0, text.Length);
        Assert.True(verifier.VerifySignature(Convert.FromBase64String(signature.GetProperty("value").GetString()!)));
    }

    [Fact]
    public async Task It_is_no_part_of_the_fact_so_that_one_signed_anew_or_not_at_all_is_the_same_and_the_first_record_stays()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var entries = kiosk.Entries(2);
        Assert.Equal(HttpStatusCode.Created, await kiosk.PostOneAsync(kiosk.Signed(entries[0])));
        var first = await RecordOfAsync(host, entries[0]);
        Assert.Equal(HttpStatusCode.OK, await kiosk.PostOneAsync(kiosk.Signed(entries[0])));
        Assert.Equal(HttpStatusCode.OK, await kiosk.PostOneAsync(entries[0].Canonical.ToArray()));
        Assert.Equal(first, await RecordOfAsync(host, entries[0]));
        Assert.DoesNotContain("devicesignature", first, StringComparison.Ordinal);

        Assert.Equal(HttpStatusCode.Created, await kiosk.PostOneAsync(entries[1].Canonical.ToArray()));
        Assert.DoesNotContain("\"signature\"", await RecordOfAsync(host, entries[1]), StringComparison.Ordinal);
    }

    [Fact]
    public async Task One_of_another_fact_or_of_another_kiosk_is_refused_by_name_and_nothing_is_recorded()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        using var other = await Kiosk.EnrolAsync(host);
        var entries = kiosk.Entries(2);
        var before = await host.ScalarAsync("select count(*) from trace.record");
        Assert.Equal(HttpStatusCode.UnprocessableEntity, await kiosk.PostOneAsync(kiosk.Signed(entries[0], over: entries[1])));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, await kiosk.PostOneAsync(other.Signed(entries[0])));
        using var station = new HttpClient { BaseAddress = host.Address };
        using var keyless = new HttpRequestMessage(HttpMethod.Post, "/v1/facts") { Content = new ByteArrayContent(kiosk.Signed(Kiosk.Entry("/anywhere", 1))) { Headers = { ContentType = new("application/cloudevents+json") } } };
        keyless.Headers.Add("X-Device-Id", Plant.FormHall.Device);
        keyless.Headers.Add("X-Device-Key", host.Credentials.Device(Plant.FormHall.Device).Key);
        using var answer = await station.SendAsync(keyless);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, answer.StatusCode);
        var error = (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("errors")[0];
        Assert.Equal("devicesignature", error.GetProperty("field").GetString());
        Assert.Contains("has no key of its own", error.GetProperty("limit").GetString(), StringComparison.Ordinal);
        Assert.Equal(before, await host.ScalarAsync("select count(*) from trace.record"));
    }

    [Fact]
    public async Task It_waits_with_a_fact_that_is_held_back_and_goes_into_the_record_when_that_is_cleared()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var entry = kiosk.Entries(1, "/anywhere")[0];
        Assert.Equal(HttpStatusCode.Accepted, await kiosk.PostOneAsync(kiosk.Signed(entry)));
        using var administrator = await host.SignInAsync(Plant.Administrator);
        (await administrator.PostAsJsonAsync($"/v1/quarantine/{entry.RecordId}/clear", new { contentHash = entry.ContentHash })).EnsureSuccessStatusCode();
        using var record = JsonDocument.Parse(await RecordOfAsync(host, entry));
        Assert.Contains("cleared by", record.RootElement.GetProperty("assurance").GetString(), StringComparison.Ordinal);
        Assert.Equal(88, record.RootElement.GetProperty("signature").GetProperty("value").GetString()!.Length);
    }

    [Fact]
    public async Task A_packet_brings_the_enrollment_along_and_the_verifier_says_what_the_kiosk_signed()
    {
        await using var host = await PlantHost.StartAsync();
        var story = PlantStory.RigidFrame(17, [new Casting(3)], new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5)), confirmed: true);
        await host.SendAsync(story.Facts);
        using var kiosk = await Kiosk.EnrolAsync(host);
        Assert.Equal(HttpStatusCode.Created, await kiosk.PostOneAsync(kiosk.Signed(Kiosk.Entry("/kiosk/" + kiosk.Id, 1, unit: story.Units[0]))));
        Assert.Equal(HttpStatusCode.Created, await kiosk.PostOneAsync(Kiosk.Entry("/kiosk/" + kiosk.Id, 2, unit: story.Units[0]).Canonical.ToArray()));
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        using var answer = await engineer.PostAsJsonAsync("/v1/packets", new { units = new[] { story.Units[0] }, draft = false, pin = host.Credentials.Person(Plant.QualityEngineer.Id).Pin });
        Assert.True(answer.StatusCode == HttpStatusCode.Created, await answer.Content.ReadAsStringAsync());
        var id = (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("id").GetString();
        var path = Path.Combine(host.Folder, "packet.zip");
        await File.WriteAllBytesAsync(path, await engineer.GetByteArrayAsync("/v1/packets/" + id));

        using var archive = new ZipArchive(new MemoryStream(await File.ReadAllBytesAsync(path)));
        using var lines = new StreamReader(archive.GetEntry("records.jsonl")!.Open());
        Assert.Single((await lines.ReadToEndAsync()).Split('\n'), l => l.Contains("device.enrolled.v1", StringComparison.Ordinal));
        var pdf = Path.Combine(host.Folder, "packet.pdf");
        archive.GetEntry("packet.pdf")!.ExtractToFile(pdf);
        using var tool = Process.Start(new ProcessStartInfo("pdftotext", ["-layout", pdf, "-"]) { RedirectStandardOutput = true })!;
        Assert.Matches("Signed by a kiosk's own key +1 record; the signature", await tool.StandardOutput.ReadToEndAsync());

        using var said = new StringWriter();
        var exit = Verifier.Command.Run([path, "--key", LogKey.LineFile(Path.Combine(host.Folder, "signer", "log-key.pem"))], said, said);
        Assert.True(exit == Verifier.Command.Ok, said.ToString());
        Assert.Contains("1 record signed by the device that sent it, with a key whose enrollment is in the log", said.ToString(), StringComparison.Ordinal);
        Assert.Contains($"1 record sent by {kiosk.Id}, which has a key of its own, without its signature", said.ToString(), StringComparison.Ordinal);
    }
}
