using System.Net;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Core.Tests.Dossiers;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Assembling;
using Traceability.Service.Recall;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Recall;

/// <summary>Which units does a subject reach, where are they, what is in a unit: over a real store, by the interface.</summary>
public sealed class Recalling
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task A_heat_names_its_units_with_where_they_are_and_a_list_can_be_read_in_parts_and_as_a_table()
    {
        var story = PlantStory.RigidFrame(71, 6, PlantStory.StartFor(6, Now), Mishaps.LateMillCertificate);
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(story.Facts);
        await host.SettleAsync(story.Facts.Count);

        var late = await host.GetAsync("/v1/recall/lot%3Amill-b%2FB61377");
        Assert.True(late.GetProperty("judged").GetBoolean());
        var unit = Assert.Single(late.GetProperty("units").EnumerateArray());
        Assert.Equal(story.UnitOf(Mishaps.LateMillCertificate), unit.GetProperty("unit").GetString());
        Assert.Equal(("madeFrom", "certain", true, "shipped"), (unit.GetProperty("how").GetString(), unit.GetProperty("link").GetString(), unit.GetProperty("named").GetBoolean(), unit.GetProperty("phase").GetString()));
        Assert.StartsWith("shipped to " + unit.GetProperty("shippedTo").GetString(), unit.GetProperty("place").GetString(), StringComparison.Ordinal);

        var mix = story.Facts.First(f => f.Event.Type == "mix.approved.v1").Event.Data.GetProperty("mix").GetString();
        var first = await host.GetAsync($"/v1/recall/mix:{mix}?limit=4");
        Assert.Equal(6, first.GetProperty("counts").GetProperty("total").GetInt32());
        Assert.Equal(6, first.GetProperty("counts").GetProperty("governedBy").GetInt32());
        var rest = await host.GetAsync($"/v1/recall/mix:{mix}?limit=4&after={first.GetProperty("next").GetString()}");
        Assert.False(rest.TryGetProperty("next", out _));
        Assert.Equal(story.Units.Order(StringComparer.Ordinal), Units(first).Concat(Units(rest)));

        using var http = new HttpClient();
        using var csv = await http.SendAsync(host.DeviceRequest(HttpMethod.Get, $"/v1/recall/mix:{mix}?format=csv", "office-1"));
        var lines = (await csv.Content.ReadAsStringAsync()).Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
        Assert.Equal("unit,how,link,named,phase,mark,contract,place,delivery,destination", lines[0]);
        Assert.Equal(story.Units.Order(StringComparer.Ordinal), lines.Skip(1).Select(l => l.Split(',')[0]));

        foreach (var (path, status) in new[] { ("lot:nobody/1", HttpStatusCode.NotFound), ("nonsense", HttpStatusCode.UnprocessableEntity), ($"mix:{mix}?direction=left", HttpStatusCode.UnprocessableEntity), ($"mix:{mix}?limit=0", HttpStatusCode.UnprocessableEntity) })
        {
            using var answer = await http.SendAsync(host.DeviceRequest(HttpMethod.Get, "/v1/recall/" + path, "office-1"));
            Assert.Equal(status, answer.StatusCode);
        }
    }

    [Fact]
    public async Task Both_directions_agree_for_every_unit_and_everything_in_it()
    {
        var sent = DossierGen.Example(2, changes: 12);
        await using var host = await PlantHost.StartAsync();
        // One heat that a correction takes out of its cage: that link then stands in the index alone.
        var tied = PlantStory.RigidFrame(73, 1, PlantStory.StartFor(1, Now), key: "K-");
        await RecordAsync(host, [.. sent.Events, .. tied.Facts.Select(f => f.Event), HeatMisread(tied.Facts.First(f => f.Event.Type == "cage.tied.v1").Event).Correction]);
        var units = sent.Units.Concat(tied.Units).ToList();
        await SettledAsync(host);
        var recall = host.Services.GetRequiredService<RecallReader>();

        var down = new List<(Subject Subject, string Unit, ReachHow How, bool Certain, bool Named)>();
        foreach (var unit in units)
        {
            var file = Assemble.Unit(await host.DossierAsync(unit));
            var of = (await recall.DownAsync(Subject.Unit(unit), null, CancellationToken.None)).Subjects;
            Assert.Equal(file.Reached.Where(s => s != file.Unit).Order(), of.Where(r => r.Named).Select(r => r.Subject));
            down.AddRange(of.Select(r => (r.Subject, unit, r.How, r.Certain, r.Named)));
        }

        Assert.Contains(down, d => !d.Named);
        var up = new List<(Subject Subject, string Unit, ReachHow How, bool Certain, bool Named)>();
        foreach (var subject in down.Select(d => d.Subject).Distinct())
        {
            var answer = await recall.UpAsync(subject, CancellationToken.None);
            Assert.True(answer.Judged);
            up.AddRange(answer.Units.Where(u => units.Contains(u.Serial)).Select(u => (subject, u.Serial, u.How, u.Certain, u.Named!.Value)));
        }

        Assert.Equal(down.Order(), up.Order());
    }

    [Fact]
    public async Task While_nothing_is_judged_the_index_of_links_names_every_unit()
    {
        var sent = DossierGen.Example(1, changes: 10);
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        await RecordAsync(host, sent.Events);
        var recall = host.Services.GetRequiredService<RecallReader>();

        foreach (var unit in sent.Units)
        {
            foreach (var reached in (await recall.DownAsync(Subject.Unit(unit), null, CancellationToken.None)).Subjects)
            {
                var answer = await recall.UpAsync(reached.Subject, CancellationToken.None);
                Assert.False(answer.Judged);
                var named = Assert.Single(answer.Units, u => u.Serial == unit);
                Assert.Null(named.Named);
                Assert.True(named.How <= reached.How);
            }
        }

        // The rows then say the same and more.
        await host.AddAsync("worker");
        await SettledAsync(host);
        var lot = Subject.Lot("mill-a", "A40021");
        Assert.True((await recall.UpAsync(lot, CancellationToken.None)).Judged);
    }

    [Fact]
    public async Task A_heat_that_a_correction_took_out_stays_on_the_list_as_no_longer_named()
    {
        var story = PlantStory.RigidFrame(72, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync();
        await RecordAsync(host, story.Facts.Select(f => f.Event));
        await SettledAsync(host);
        var tied = story.Facts.First(f => f.Event.Type == "cage.tied.v1").Event;
        var (was, now, correction) = HeatMisread(tied);
        var recall = host.Services.GetRequiredService<RecallReader>();
        Assert.True(Assert.Single((await recall.UpAsync(was, CancellationToken.None)).Units).Named);

        await RecordAsync(host, [correction]);
        // Asked before the unit is judged anew or after: the unit is on both lists either way.
        Assert.Single((await recall.UpAsync(was, CancellationToken.None)).Units);
        Assert.Single((await recall.UpAsync(now, CancellationToken.None)).Units);
        await SettledAsync(host);

        Assert.False(Assert.Single((await recall.UpAsync(was, CancellationToken.None)).Units).Named);
        Assert.Equal(1, (await recall.UpAsync(was, CancellationToken.None)).Counts.NoLongerNamed);
        Assert.True(Assert.Single((await recall.UpAsync(now, CancellationToken.None)).Units).Named);
        using var auditor = await host.SignInAsync(Plant.Auditor);
        var page = await auditor.GetStringAsync($"/subjects/{was.Key}");
        Assert.Contains("Named once, since corrected: 1", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_lot_that_a_silo_may_have_held_is_possible_and_one_it_cannot_have_held_is_no_longer_named()
    {
        var story = PlantStory.RigidFrame(74, 1, PlantStory.StartFor(1, Now));
        var tickets = story.Facts.Select(f => f.Event).Where(e => e.Type == "batch.ticketed.v1").ToList();
        CloudEvent Drawn(CloudEvent ticket)
        {
            var fact = (BatchTicketed)FactCatalog.Read(FactCatalog.All[ticket.Type], ticket.Data);
            return Pool.Send(ticket.Source, ticket.Id, fact with { Ingredients = [.. fact.Ingredients.Select(i => i.Material == Material.Cement ? i with { Lot = null, Storage = "SILO-9" } : i)] }, ticket.Time, ticket.Person);
        }

        CloudEvent Filled(string number, double hours) => Pool.Send("/plant/receiving-1", "silo-" + number, new StorageFilled("SILO-9", new LotId("cement-9", number), Material.Cement), tickets[0].Time.AddHours(hours), "p-103");
        await using var host = await PlantHost.StartAsync();
        await RecordAsync(host, [.. story.Facts.Select(f => f.Event).Where(e => e.Type != "batch.ticketed.v1"), .. tickets.Select(Drawn),
            Filled("X1", -72), Pool.Send("/plant/receiving-1", "silo-emptied", new StorageEmptied("SILO-9", "looked in"), tickets[0].Time.AddHours(-48), "p-103"), Filled("X2", -24), Filled("X3", 240)]);
        await SettledAsync(host);
        var recall = host.Services.GetRequiredService<RecallReader>();
        async Task<RecalledUnit> UnitAsync(Subject subject) => Assert.Single((await recall.UpAsync(subject, CancellationToken.None)).Units);

        Assert.Equal((ReachHow.MadeFrom, true, true), await UnitAsync(new Subject("storage", "SILO-9")) is var silo ? (silo.How, silo.Certain, silo.Named) : default);
        Assert.Equal((ReachHow.MadeFrom, false, true), await UnitAsync(Subject.Lot("cement-9", "X2")) is var held ? (held.How, held.Certain, held.Named) : default);
        foreach (var number in new[] { "X1", "X3" }) Assert.False((await UnitAsync(Subject.Lot("cement-9", number))).Named);
        var down = (await recall.DownAsync(Subject.Unit(story.Units[0]), null, CancellationToken.None)).Subjects;
        Assert.Equal(["X2"], down.Where(d => d.Named && !d.Certain).Select(d => d.Subject.Id.Split('/')[1]));
        using var auditor = await host.SignInAsync(Plant.Auditor);
        Assert.Contains("In these units, possibly: 1", await auditor.GetStringAsync("/subjects/lot:cement-9/X2"), StringComparison.Ordinal);
        Assert.Contains("link\":\"possible", (await host.GetAsync("/v1/recall/lot:cement-9/X2")).GetRawText(), StringComparison.Ordinal);
    }

    private static (Subject Was, Subject Now, CloudEvent Correction) HeatMisread(CloudEvent tied)
    {
        var lot = tied.Data.GetProperty("bars")[0].GetProperty("lots")[0];
        var (mill, number) = (lot.GetProperty("producer").GetString()!, lot.GetProperty("number").GetString()!);
        var replaced = JsonNode.Parse(tied.Data.GetRawText().Replace($"\"{number}\"", $"\"Z{number}\"", StringComparison.Ordinal))!;
        return (Subject.Lot(mill, number), Subject.Lot(mill, "Z" + number),
            Pool.Send("/plant/office", "misread-1", new RecordCorrected(tied.RecordId, 1, tied.Type, JsonSerializer.SerializeToElement(replaced), "heat number misread"), tied.Time.AddDays(1)));
    }

    private static IEnumerable<string?> Units(JsonElement answer) => answer.GetProperty("units").EnumerateArray().Select(u => u.GetProperty("unit").GetString());

    private static async Task RecordAsync(PlantHost host, IEnumerable<CloudEvent> events)
    {
        foreach (var batch in events.Chunk(100))
            await host.Services.GetRequiredService<Recorder>().RecordAsync([.. batch.Select(e => new Received(e.Canonical.ToArray(), "device", "intake", e.Time))], CancellationToken.None);
    }

    private static Task SettledAsync(PlantHost host) => PlantHost.EventuallyAsync(async () =>
        await host.ScalarAsync("select coalesce(min(last_seq_id), 0) from marten.mt_event_progression where name like 'MarkStale%'") >= await host.ScalarAsync("select max(position) from trace.record")
        && await host.ScalarAsync("select count(*) from trace.stale_unit") == 0, "every unit assembled");
}
