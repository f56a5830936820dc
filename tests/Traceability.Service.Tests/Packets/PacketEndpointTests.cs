using System.Globalization;
using System.IO.Compression;
using System.Net;
using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Linking;
using Traceability.Service.Log;
using Traceability.Service.Operations;
using Traceability.Service.Packets;
using Traceability.Service.Tests.Hosting;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Packets;

public sealed class PacketEndpointTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5));

    private static Scenario Story(bool confirmed = true) => PlantStory.RigidFrame(17, [new Casting(3), new Casting(3)], Start, confirmed: confirmed);

    private static Task<HttpResponseMessage> AskAsync(PlantHost host, HttpClient person, bool draft, params string[] units) =>
        person.PostAsJsonAsync("/v1/packets", new { units, draft, pin = Pin(host) });

    private static string Pin(PlantHost host) => host.Credentials.Person(Plant.QualityEngineer.Id).Pin;

    [Fact]
    public async Task No_packet_and_no_load_certificate_is_issued_on_a_record_that_was_changed_in_the_database()
    {
        await using var host = await PlantHost.StartAsync();
        var story = Story();
        await host.SendAsync(story.Facts);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        var shipped = story.Facts.First(f => f.Event.Type == "unit.shipped.v1");
        await host.SendAsync([shipped with { Event = Loaded(shipped.Event, "D-0312", story.Units[0], shipped.Event.Time) }]);
        await host.SettleAsync(1);
        await host.ExecuteAsync($"update trace.record set bytes = set_byte(bytes, length(bytes) - 3, get_byte(bytes, length(bytes) - 3) # 1) where position = (select max(position) from trace.about where subject = 'unit:{story.Units[0]}')");

        using var packet = await AskAsync(host, engineer, false, [.. story.Units]);
        Assert.Equal(HttpStatusCode.Conflict, packet.StatusCode);
        Assert.Contains("changed in the database", await packet.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        using var certificate = await engineer.PostAsJsonAsync("/v1/deliveries/D-0312/certificates", new { pin = Pin(host) });
        Assert.Contains("changed in the database", await certificate.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.record where type in ('record-packet.issued.v1', 'load-certificate.issued.v1')"));
    }

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
        var exit = Verifier.Command.Run([path, "--key", LogKey.LineFile(Path.Combine(host.Folder, "signer", "log-key.pem"))], said, said);
        Assert.True(exit == Verifier.Command.Ok, said.ToString());

        var pdf = await engineer.GetByteArrayAsync($"/v1/packets/{id}/packet.pdf");
        Assert.Equal("%PDF", Encoding.ASCII.GetString(pdf, 0, 4));
        using var archive = new ZipArchive(new MemoryStream(zip));
        Assert.Equal(11, archive.Entries.Count);
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

        // Before it is issued: the record of the packet is itself one more record of its units.
        var shown = new Dictionary<string, string?>();
        foreach (var unit in story.Units) shown[unit] = (await engineer.GetFromJsonAsync<JsonElement>("/v1/units/" + unit)).GetProperty("judgement").GetString();
        using var answer = await AskAsync(host, engineer, false, [.. story.Units]);
        var packet = await answer.Content.ReadFromJsonAsync<JsonElement>();
        using var archive = new ZipArchive(new MemoryStream(await engineer.GetByteArrayAsync("/v1/packets/" + packet.GetProperty("id").GetString())));
        using var manifest = JsonDocument.Parse(archive.GetEntry("manifest.json")!.Open());

        Assert.All(story.Units, u => Assert.Equal(shown[u], manifest.RootElement.GetProperty("judgedInPlant").GetProperty(u).GetString()));
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
    public async Task It_is_recorded_with_its_manifest_and_signed_with_the_pin_and_a_draft_is_neither()
    {
        await using var host = await PlantHost.StartAsync();
        var story = Story();
        await host.SendAsync(story.Facts);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        var unit = story.Units[0];

        using var unsigned = await engineer.PostAsJsonAsync("/v1/packets", new { units = new[] { unit } });
        Assert.Equal(HttpStatusCode.Forbidden, unsigned.StatusCode);
        using var draft = await engineer.PostAsJsonAsync("/v1/packets", new { units = new[] { unit }, draft = true });
        Assert.Equal(HttpStatusCode.Created, draft.StatusCode);
        Assert.Empty(await IssuedAsync<RecordPacketIssued>(host, unit));

        var packet = await (await AskAsync(host, engineer, false, unit)).Content.ReadFromJsonAsync<JsonElement>();
        var id = packet.GetProperty("id").GetString()!;
        var fact = Assert.Single(await IssuedAsync<RecordPacketIssued>(host, unit));
        using var archive = new ZipArchive(new MemoryStream(await engineer.GetByteArrayAsync("/v1/packets/" + id)));
        using var manifest = new MemoryStream();
        await archive.GetEntry("manifest.json")!.Open().CopyToAsync(manifest);
        Assert.Equal((id, Convert.ToHexStringLower(SHA256.HashData(manifest.ToArray()))), (fact.Packet, fact.ManifestSha256));
        Assert.Equal([unit], fact.Units);
        Assert.Equal(packet.GetProperty("pending").GetArrayLength(), fact.Pending.Count);
    }

    [Fact]
    public async Task A_supplement_is_issued_when_something_has_come_laid_out_before_anybody_waits_recorded_and_verified_against_its_packet()
    {
        await using var host = await PlantHost.StartAsync();
        var story = Story();
        var unit = story.Units[0];
        // All but the ship set and what came after it.
        var held = story.Facts.Where(f => f.Event.Type is "unit.shipped.v1" || (f.Event.Type is "cylinder.broken.v1" && f.Event.Time > story.Facts.First(x => x.Event.Type is "unit.stripped.v1").Event.Time)).ToList();
        Assert.NotEmpty(held);
        await host.SendAsync([.. story.Facts.Except(held)]);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        using var ofPacket = new Spans();
        var packet = await (await ofPacket.TracedAsync(() => AskAsync(host, engineer, false, unit))).Content.ReadFromJsonAsync<JsonElement>();
        ofPacket.LaidOutOutside();
        var id = packet.GetProperty("id").GetString()!;
        var path = $"/v1/packets/{id}/supplements";

        // The record of the packet itself is something that came; the certificate of shipping stands on the form of shipment.
        await host.SendAsync(held);
        using var unsigned = await engineer.PostAsJsonAsync(path, new { pin = "000000" });
        Assert.Equal(HttpStatusCode.Forbidden, unsigned.StatusCode);
        using var spans = new Spans();
        using var answer = await spans.TracedAsync(() => engineer.PostAsJsonAsync(path, new { pin = Pin(host) }));
        Assert.True(answer.StatusCode == HttpStatusCode.Created, await answer.Content.ReadAsStringAsync());
        spans.LaidOutOutside();
        var supplement = await answer.Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal((id + "-S1", id, 1), (supplement.GetProperty("id").GetString(), supplement.GetProperty("supplementTo").GetString(), supplement.GetProperty("supplementNumber").GetInt32()));
        var fact = Assert.Single(await IssuedAsync<SupplementIssued>(host, unit));
        Assert.Equal((id, 1), (fact.Packet, fact.Number));
        Assert.StartsWith(id + " page", fact.ReplacesPages, StringComparison.Ordinal);

        async Task<string> SaveAsync(string name)
        {
            var file = Path.Combine(host.Folder, name + ".zip");
            await File.WriteAllBytesAsync(file, await engineer.GetByteArrayAsync("/v1/packets/" + name));
            return file;
        }

        using var said = new StringWriter();
        var exit = Verifier.Command.Run([await SaveAsync(id + "-S1"), "--key", LogKey.LineFile(Path.Combine(host.Folder, "signer", "log-key.pem")), "--of", await SaveAsync(id)], said, said);
        Assert.True(exit == Verifier.Command.Ok, said.ToString());

        using var ofSupplement = await engineer.PostAsJsonAsync($"/v1/packets/{id}-S1/supplements", new { pin = Pin(host) });
        Assert.Equal(HttpStatusCode.Conflict, ofSupplement.StatusCode);
        using var unknown = await engineer.PostAsJsonAsync("/v1/packets/PK-1/supplements", new { pin = Pin(host) });
        Assert.Equal(HttpStatusCode.NotFound, unknown.StatusCode);
    }

    [Fact]
    public async Task A_load_certificate_is_issued_for_what_was_loaded_laid_out_before_anybody_waits_signed_recorded_and_handed_out_as_it_was()
    {
        await using var host = await PlantHost.StartAsync("--Scenario:Clock=true");
        var story = PlantStory.RigidFrame(17, [new Casting(3)], Start, confirmed: true);
        var unit = story.Units[0];
        var clock = host.Services.GetRequiredService<ScenarioClock>();
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        using var inspector = await host.SignInAsync(Plant.Inspector);
        const string path = "/v1/deliveries/D-0311/certificates";
        var shipped = story.Facts.Single(f => f.Event.Type == "unit.shipped.v1");
        var sent = 0;
        async Task ReleaseAsync(StoryRelease release)
        {
            var due = story.Facts.Skip(sent).TakeWhile(f => f.ArrivesAt <= release.At).ToList();
            clock.Set(release.At);
            await host.SendAsync(due);
            sent += due.Count;
            using var answer = await inspector.PostAsJsonAsync($"/v1/units/{unit}/releases", new { hold = release.Hold.ToString(), pin = host.Credentials.Person(Plant.Inspector.Id).Pin });
            Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        }

        foreach (var release in story.Releases.Where(r => r.Hold != HoldKind.Ship)) await ReleaseAsync(release);
        using var nothing = await engineer.PostAsJsonAsync(path, new { pin = Pin(host) });
        Assert.Equal(HttpStatusCode.Conflict, nothing.StatusCode);
        Assert.Contains("no record says what was loaded", await nothing.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        await host.SendAsync([shipped with { Event = Loaded(shipped.Event, "D-0311", unit, clock.GetUtcNow()) }]);

        using var notTheirs = await inspector.PostAsJsonAsync(path, new { pin = Pin(host) });
        Assert.Equal(HttpStatusCode.Forbidden, notTheirs.StatusCode);
        using var odd = await engineer.PostAsJsonAsync(path, new { pin = Pin(host), wording = "perfect" });
        Assert.Equal(HttpStatusCode.UnprocessableEntity, odd.StatusCode);
        using var held = await engineer.PostAsJsonAsync(path, new { pin = Pin(host) });
        Assert.Equal(HttpStatusCode.Conflict, held.StatusCode);
        Assert.Contains($"ship hold of {unit} is not released", await held.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Empty(await IssuedAsync<LoadCertificateIssued>(host, unit));

        await ReleaseAsync(story.Releases.Single(r => r.Hold == HoldKind.Ship));
        using var complete = await engineer.PostAsJsonAsync(path, new { pin = Pin(host), wording = "complete" });
        Assert.Equal(HttpStatusCode.Conflict, complete.StatusCode);
        Assert.Contains("would certify that no item is open", await complete.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        using var spans = new Spans();
        using var answer = await spans.TracedAsync(() => engineer.PostAsJsonAsync(path, new { pin = Pin(host) }));
        Assert.True(answer.StatusCode == HttpStatusCode.Created, await answer.Content.ReadAsStringAsync());
        spans.LaidOutOutside();
        var certificate = await answer.Content.ReadFromJsonAsync<JsonElement>();
        var pdf = await engineer.GetByteArrayAsync(answer.Headers.Location);
        var fact = Assert.Single(await IssuedAsync<LoadCertificateIssued>(host, unit));
        Assert.Equal(Convert.ToHexStringLower(SHA256.HashData(pdf)), fact.Sha256);
        Assert.Equal(("D-0311", 1), (fact.Delivery, certificate.GetProperty("number").GetInt32()));
        Assert.True(certificate.GetProperty("exceptions").GetInt32() > 0);
        Assert.Contains((await host.DossierAsync(unit)).Records, r => r.Id == certificate.GetProperty("record").GetGuid() && r.Person == Plant.QualityEngineer.Id);
        var listed = await engineer.GetFromJsonAsync<JsonElement>(path);
        Assert.Equal(1, listed.GetArrayLength());
    }

    private static CloudEvent Loaded(CloudEvent like, string delivery, string unit, DateTimeOffset at)
    {
        var json = JsonNode.Parse(like.Canonical.Span)!.AsObject();
        json["id"] = "loaded-" + delivery;
        json["type"] = FactCatalog.Of<DeliveryLoaded>().Type;
        json["time"] = at.ToString("yyyy-MM-dd'T'HH:mm:sszzz", CultureInfo.InvariantCulture);
        json["data"] = JsonNode.Parse(FactCatalog.Write(new DeliveryLoaded(delivery, "T-12", [unit])).GetRawText());
        json.Remove("subject");
        return CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(json));
    }

    /// <summary>The facts of one type in a unit's dossier.</summary>
    private static async Task<IReadOnlyList<T>> IssuedAsync<T>(PlantHost host, string unit) where T : IFact =>
        [.. (await host.Services.GetRequiredService<DossierStore>().LoadAsync(Subject.Unit(unit), null, CancellationToken.None)).Records.Select(r => r.Fact).OfType<T>()];

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
        Assert.Equal($"{id}.pdf", handed.Content.Headers.ContentDisposition!.FileName);
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
    public async Task A_manifest_that_lies_in_the_table_and_nobody_issued_is_never_signed_and_is_reported()
    {
        await using var host = await PlantHost.StartAsync();
        var story = Story();
        await host.SendAsync(story.Facts);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        var issued = await (await AskAsync(host, engineer, false, story.Units[0])).Content.ReadFromJsonAsync<JsonElement>();
        var id = issued.GetProperty("id").GetString()!;
        var store = host.Services.GetRequiredService<PacketStore>();
        var genuine = PacketZip.Read((await store.FindAsync(id, CancellationToken.None))!.Value.Zip, "manifest.json");
        var record = (await store.AnswerAsync(id, CancellationToken.None)).Record!.Value;
        var other = (await host.DossierAsync(story.Units[0])).Records[0].Id;
        byte[] Changed(Action<JsonObject> change)
        {
            var manifest = JsonNode.Parse(genuine)!.AsObject();
            change(manifest);
            return CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(manifest));
        }

        // What whoever can write to the database could lay there, each under the name that its manifest says.
        var offered = new List<(string Packet, byte[] Bytes, Guid? Record)>
        {
            ("note", "test.example/log\n9\nAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n"u8.ToArray(), record),
            ("no members", """{"format":"traceability-packet/2"}"""u8.ToArray(), record),
            ("no json", [0xff, 0x00], record),
            ("nothing", [], record),
            ("too large", new byte[9 << 20], record),
            ("PK-2026-9991", Changed(m => m["packet"] = "PK-2026-9991"), null),
            ("PK-2026-9992", Changed(m => m["packet"] = "PK-2026-9992"), Guid.NewGuid()),
            ("PK-2026-9993", Changed(m => m["packet"] = "PK-2026-9993"), record),
            ("PK-2026-9994", Changed(m => m["packet"] = "PK-2026-9994"), other),
            ("of another contract", Changed(m => m["contract"] = "C-0000"), record),
            ("a copy", genuine, record),
            ("a draft", Changed(m => { m["format"] = "traceability-draft/1"; m["draft"] = true; }), record),
            ("a draft that says packet", Changed(m => m["draft"] = true), record),
            ("of before", Changed(m => m["format"] = "traceability-packet/1"), record),
            ("a size out of range", Encoding.UTF8.GetBytes(Encoding.UTF8.GetString(genuine).Replace($"\"size\":{JsonDocument.Parse(genuine).RootElement.GetProperty("log").GetProperty("size").GetInt64()}}},\"packet\"", "\"size\":1e+30},\"packet\"", StringComparison.Ordinal)), record),
            ("units of another type", Changed(m => m["units"] = "RF-0001"), record),
        };
        foreach (var row in offered)
        {
            await using var insert = host.Database.CreateCommand("insert into trace.manifest (packet, bytes, record) values ($1, $2, $3)");
            insert.Parameters.Add(new() { Value = row.Packet });
            insert.Parameters.Add(new() { Value = row.Bytes });
            insert.Parameters.Add(new() { Value = (object?)row.Record ?? DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Uuid });
            await insert.ExecuteNonQueryAsync();
        }

        foreach (var (name, _, _) in offered)
            await PlantHost.EventuallyAsync(async () => (await store.AnswerAsync(name, CancellationToken.None)).Refused is not null, $"refusal of {name}");
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.manifest where signature is not null"));
        using var http = new HttpClient { BaseAddress = host.Address };
        var ready = await http.GetFromJsonAsync<JsonElement>("/health/ready");
        var signer = ready.GetProperty("checks").GetProperty("signer");
        Assert.Equal("Degraded", signer.GetProperty("status").GetString());
        Assert.Contains("laid before the signer that it does not sign", signer.GetProperty("says").GetString(), StringComparison.Ordinal);

        // And the signer goes on.
        using var next = await AskAsync(host, engineer, false, story.Units[1]);
        Assert.Equal(HttpStatusCode.Created, next.StatusCode);
        Assert.True((await next.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("signed").GetBoolean());
    }

    [Fact]
    public async Task A_packet_that_the_signer_did_not_sign_in_time_is_issued_and_handed_out_once_it_is_whole()
    {
        await using var host = await PlantHost.StartAsync(false, ["web,worker", "signer"]);
        var story = Story();
        await host.SendAsync(story.Facts);
        await host.SettleAsync(story.Facts.Count);
        await PlantHost.EventuallyAsync(async () => await host.ScalarAsync("select coalesce(max(size), 0) from trace.checkpoint") == story.Facts.Count, "sealed");
        await host.StopLastAsync();
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);

        using var answer = await AskAsync(host, engineer, false, story.Units[0]);
        Assert.Equal(HttpStatusCode.Accepted, answer.StatusCode);
        var packet = await answer.Content.ReadFromJsonAsync<JsonElement>();
        var id = packet.GetProperty("id").GetString()!;
        Assert.False(packet.GetProperty("signed").GetBoolean());
        Assert.Single(await IssuedAsync<RecordPacketIssued>(host, story.Units[0]));
        foreach (var path in new[] { $"/v1/packets/{id}", $"/v1/packets/{id}/packet.pdf" })
        {
            using var early = await engineer.GetAsync(path);
            Assert.Equal(HttpStatusCode.ServiceUnavailable, early.StatusCode);
        }

        await host.AddAsync("signer");
        HttpResponseMessage? whole = null;
        await PlantHost.EventuallyAsync(async () => (whole = await engineer.GetAsync("/v1/packets/" + id)).StatusCode == HttpStatusCode.OK, "whole");
        var path2 = Path.Combine(host.Folder, "packet.zip");
        await File.WriteAllBytesAsync(path2, await whole!.Content.ReadAsByteArrayAsync());
        using var said = new StringWriter();
        Assert.True(Verifier.Command.Run([path2, "--key", LogKey.LineFile(Path.Combine(host.Folder, "signer", "log-key.pem"))], said, said) == Verifier.Command.Ok, said.ToString());
    }

    [Fact]
    public async Task Drafts_and_what_is_refused_take_no_packet_number_and_a_draft_is_signed_by_nobody()
    {
        await using var host = await PlantHost.StartAsync();
        var story = Story();
        await host.SendAsync(story.Facts);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);

        var first = await (await AskAsync(host, engineer, false, story.Units[0])).Content.ReadFromJsonAsync<JsonElement>();
        var draft = await (await AskAsync(host, engineer, true, story.Units[1])).Content.ReadFromJsonAsync<JsonElement>();
        using var refused = await AskAsync(host, engineer, false, "RF-9999");
        Assert.Equal(HttpStatusCode.Conflict, refused.StatusCode);
        var second = await (await AskAsync(host, engineer, false, story.Units[1])).Content.ReadFromJsonAsync<JsonElement>();

        Assert.EndsWith("-0001", first.GetProperty("id").GetString(), StringComparison.Ordinal);
        Assert.EndsWith("-0002", second.GetProperty("id").GetString(), StringComparison.Ordinal);
        var id = draft.GetProperty("id").GetString()!;
        Assert.StartsWith("DRAFT-", id, StringComparison.Ordinal);
        Assert.False(draft.GetProperty("signed").GetBoolean());
        Assert.Equal(2, await host.ScalarAsync("select count(*) from trace.manifest"));
        var path = Path.Combine(host.Folder, "draft.zip");
        await File.WriteAllBytesAsync(path, await engineer.GetByteArrayAsync("/v1/packets/" + id));
        using var said = new StringWriter();
        Assert.Equal(Verifier.Command.Draft, Verifier.Command.Run([path, "--key", LogKey.LineFile(Path.Combine(host.Folder, "signer", "log-key.pem"))], said, said));
        Assert.Contains("A DRAFT for the plant's own review", said.ToString(), StringComparison.Ordinal);
        Assert.DoesNotContain("Proved", said.ToString(), StringComparison.Ordinal);
    }
}
