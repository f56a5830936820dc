using System.Text.Json;
using Marten;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Core.Tests.Dossiers;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Assembling;
using Traceability.Service.Linking;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Rules;

/// <summary>The link index gathers what the pure rule gathers, for facts with corrections, withdrawals and conflicts in any order.</summary>
public sealed class Gathering
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    private static IEnumerable<string> Said(Dossier dossier) => Judge.Dossier(dossier, Now).Findings.Select(f => $"{f.Requirement} of {f.Subject}: {f.Verdict}, {f.Observed}, {f.Reason}, {string.Join(' ', f.Used)}");

    [Theory]
    [InlineData(4)]
    [InlineData(5)]
    public async Task A_record_thought_of_before_it_is_recorded_gives_the_dossier_and_the_judgement_that_it_gives_afterwards(int seed)
    {
        var sent = DossierGen.Example(seed, changes: 30);
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var recorder = host.Services.GetRequiredService<Recorder>();
        foreach (var batch in DossierGen.Shuffled(sent.Events, seed).Chunk(40))
            await recorder.RecordAsync([.. batch.Select(e => new Received(e.Canonical.ToArray(), "device", "intake", e.Time))], CancellationToken.None);
        await using var connection = await host.Database.OpenConnectionAsync();
        var (joined, changes) = (0, 0);
        // The last ones, which find most of what they bear on, and of those before each that changes another record.
        var newest = await host.ScalarAsync("select max(position) from trace.record");
        foreach (var unit in sent.Units.Select(Subject.Unit))
        {
            foreach (var record in (await DossierStore.LoadAsync(connection, PlantStory.Time, unit, newest, CancellationToken.None)).Records.Where(r => r.Position > newest - 60 || r.Fact is RecordCorrected or RecordWithdrawn))
            {
                var (foreseen, bearing) = await DossierStore.ForeseeAsync(connection, PlantStory.Time, unit, record.Position - 1, [record], CancellationToken.None);
                var recorded = await DossierStore.LoadAsRecordedAsync(connection, PlantStory.Time, unit, record.Position, CancellationToken.None);
                Assert.Equal(recorded.Records.Select(r => r.Id), foreseen.Records.Select(r => r.Id));
                Assert.Equal(Said(recorded), Said(foreseen));
                Assert.All(recorded.Records, r => Assert.True(bearing.IsMetBy(r)));
                joined += recorded.Records.Any(r => r.Id == record.Id) ? 1 : 0;
                changes += record.Fact is RecordCorrected or RecordWithdrawn ? 1 : 0;
            }
        }

        Assert.True(joined > 20 && changes > 5, $"{joined} belonged to their unit, {changes} change others");
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public async Task The_index_gathers_by_the_pure_rule_and_marks_every_unit_it_touches(int seed)
    {
        var sent = DossierGen.Example(seed, changes: 25);
        var whole = DossierGen.Example(seed, changes: 45).Events;
        // Who speaks for agencies is assigned first, and nothing from a station changes what an agency did: both are the recorder's own rules, not the index's.
        var acts = whole.Concat(sent.Events).Where(e => FactCatalog.All[e.Type].Clr.IsAssignableTo(typeof(IAgencyAct))).Select(e => e.RecordId).ToHashSet();
        bool Kept(CloudEvent e) => !e.Type.StartsWith("record.", StringComparison.Ordinal) || !acts.Contains(e.Data.GetProperty("record").GetGuid());
        List<CloudEvent> arriving = [.. whole.Select(e => e.Person).OfType<string>().Distinct().Select(Assigned), .. DossierGen.Shuffled(sent.Events, seed).Where(Kept)];
        var pool = Pool.Store(arriving);
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var recorder = host.Services.GetRequiredService<Recorder>();
        foreach (var batch in arriving.Chunk(40))
            await recorder.RecordAsync([.. batch.Select(e => new Received(e.Canonical.ToArray(), "device", "intake", e.Time))], CancellationToken.None);
        await AgreeAsync(host, sent, pool);

        await RebuildLinks.RunAsync(host.Database, CancellationToken.None);
        await AgreeAsync(host, sent, pool);

        // Each record that comes later marks every unit whose judgement it changes: the rows then say what is judged anew.
        await host.AddAsync("worker");
        await SettledAsync(host);
        var late = whole.Where(e => Kept(e) && !arriving.Contains(e)).ToList();
        Assert.NotEmpty(late);
        foreach (var one in late)
        {
            await recorder.RecordAsync([new Received(one.Canonical.ToArray(), "device", "intake", one.Time)], CancellationToken.None);
            if (one.Type.StartsWith("record.", StringComparison.Ordinal)) await SettledAsync(host);
        }

        await SettledAsync(host);
        var grown = Pool.Store(arriving.Concat(late));
        await using var session = host.Services.GetRequiredService<IDocumentStore>().QuerySession();
        foreach (var unit in sent.Units.Select(Subject.Unit))
        {
            var row = await session.LoadAsync<UnitRow>(unit.Id);
            Assert.Equal(Judge.Dossier(grown.Gather(unit), row!.JudgedAt).Hash, row.JudgementHash);
        }
    }

    private static CloudEvent Assigned(string person) => CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id = "assigned-" + person, source = "/test/office", type = FactCatalog.Of<InspectorAssigned>().Type, time = "2026-01-02T08:00:00-05:00", person = "p-101",
        data = FactCatalog.Write(new InspectorAssigned(person, "Invented Highway Agency", new DateOnly(2026, 1, 1))),
    }));

    private static Task SettledAsync(PlantHost host) => PlantHost.EventuallyAsync(async () =>
        await host.ScalarAsync("select coalesce(min(last_seq_id), 0) from marten.mt_event_progression where name like 'MarkStale%'") >= await host.ScalarAsync("select max(position) from trace.record")
        && await host.ScalarAsync("select count(*) from trace.stale_unit") == 0, "every unit assembled");

    private static async Task AgreeAsync(PlantHost host, DossierGen.Sent sent, Pool pool)
    {
        foreach (var unit in sent.Units.Select(Subject.Unit))
        {
            var dossier = await host.Services.GetRequiredService<DossierStore>().LoadAsync(unit, null, CancellationToken.None);
            var expected = pool.Gather(unit);

            Assert.Equal(expected.Records.Select(r => $"{r.Type} {r.Id}").Order(StringComparer.Ordinal), dossier.Records.Select(r => $"{r.Type} {r.Id}").Order(StringComparer.Ordinal));
            Assert.Equal(Judge.Dossier(expected, Now).Hash, Judge.Dossier(dossier, Now).Hash);
        }
    }
}
