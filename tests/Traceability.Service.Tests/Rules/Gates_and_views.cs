using Marten;
using Microsoft.Extensions.DependencyInjection;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Assembling;
using Traceability.Service.Linking;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Rules;

/// <summary>Views may lag; gates never read a view. Judgement read now, stored and rebuilt are one.</summary>
public sealed class Gates_and_views
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task A_unit_is_judged_right_while_daemon_and_assembler_are_stopped()
    {
        var story = PlantStory.RigidFrame(31, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        await host.SendAsync(story.Facts);

        var unit = await host.GetAsync($"/v1/units/{story.Units[0]}");

        Assert.Equal(await host.ScalarAsync("select max(position) from trace.record"), unit.GetProperty("position").GetInt64());
        Assert.Equal((await host.JudgeAsync(story.Units[0], unit.GetProperty("judgedAt").GetDateTimeOffset())).Hash, unit.GetProperty("judgement").GetString());
        Assert.Contains(unit.GetProperty("findings").EnumerateArray(), f => f.GetProperty("verdict").GetString() == "met");
        Assert.Equal(0, await host.ScalarAsync("select count(*) from marten.mt_doc_unitrow"));
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.log_leaf"));
    }

    [Fact]
    public async Task Judgements_read_now_stored_and_rebuilt_from_nothing_while_facts_come_in_are_equal()
    {
        var story = PlantStory.RigidFrame(32, 6, PlantStory.StartFor(6, Now), Mishaps.All);
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(story.Facts.Take(story.Facts.Count / 2));

        var rest = host.SendAsync(story.Facts.Skip(story.Facts.Count / 2));
        await RebuildLinks.RunAsync(host.Database, CancellationToken.None);
        await RebuildUnits.RunAsync(host.Database, CancellationToken.None);
        await rest;
        await RebuildLinks.RunAsync(host.Database, CancellationToken.None);
        await host.SettleAsync(story.Facts.Count - 2);

        await using var session = host.Services.GetRequiredService<IDocumentStore>().QuerySession();
        var rows = await session.Query<UnitRow>().ToListAsync();
        Assert.Equal(story.Units.Order(StringComparer.Ordinal), rows.Select(r => r.Id).Order(StringComparer.Ordinal));
        foreach (var row in rows)
        {
            var now = await host.JudgeAsync(row.Id, row.JudgedAt, row.Position);
            Assert.Equal(row.JudgementHash, now.Hash);
            await using var stored = host.Database.CreateCommand("select bytes from trace.judgement where hash = $1");
            stored.Parameters.Add(new() { Value = row.JudgementHash });
            Assert.Equal(now.Bytes, (byte[])(await stored.ExecuteScalarAsync())!);
            // Whatever came after the row's position does not bear on this unit.
            Assert.Equal(row.JudgementHash, (await host.JudgeAsync(row.Id, row.JudgedAt)).Hash);
        }
    }

    [Fact]
    public async Task A_row_whose_validity_has_run_out_is_judged_anew_without_any_fact()
    {
        var story = PlantStory.RigidFrame(35, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync("--Scenario:Clock=true");
        var clock = host.Services.GetRequiredService<Service.Operations.ScenarioClock>();
        var placed = story.Facts.First(f => f.Event.Type == "pour.placed.v1").ArrivesAt;
        clock.Set(placed);
        await host.SendAsync(story.Facts.Where(f => f.ArrivesAt <= placed));
        await host.SettleAsync(1);
        var store = host.Services.GetRequiredService<IDocumentStore>();
        async Task<UnitRow> RowAsync()
        {
            await using var session = store.QuerySession();
            return (await session.LoadAsync<UnitRow>(story.Units[0]))!;
        }

        var before = await RowAsync();
        Assert.NotNull(before.ValidUntil);

        clock.Set(before.ValidUntil.Value.AddSeconds(1));

        await PlantHost.EventuallyAsync(async () => (await RowAsync()).JudgedAt > before.ValidUntil, "a row judged after its validity ran out");
        Assert.NotEqual(before.JudgementHash, (await RowAsync()).JudgementHash);
    }

    [Fact]
    public async Task The_link_index_gathers_everything_that_bears_on_a_unit_at_every_position()
    {
        var story = PlantStory.RigidFrame(33, 3, PlantStory.StartFor(3, Now), Mishaps.All);
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(story.Facts);
        var all = new List<Core.Records.Record>();
        await using (var command = host.Database.CreateCommand("select bytes, position from trace.record order by position"))
        {
            await using var reader = await command.ExecuteReaderAsync();
            while (await reader.ReadAsync()) all.Add(Core.Records.Record.Read(reader.GetFieldValue<byte[]>(0), reader.GetInt64(1)));
        }

        foreach (var position in all.Select(r => r.Position).Where((_, i) => i % 7 == 0).Append(all[^1].Position))
        {
            foreach (var unit in story.Units)
            {
                var whole = new Core.Dossiers.Dossier(Core.Records.Subject.Unit(unit), position, [.. all.Where(r => r.Position <= position)], PlantStory.Time);
                var gathered = await host.DossierAsync(unit, position);
                Assert.Equal(Core.Judging.Judge.Dossier(whole, Now).Hash, Core.Judging.Judge.Dossier(gathered, Now).Hash);
                Assert.True(gathered.Records.Count <= whole.Records.Count);
            }
        }
    }

    [Fact]
    public async Task Records_exported_and_imported_into_an_empty_store_give_the_same_root_and_judgements()
    {
        var story = PlantStory.RigidFrame(34, 3, PlantStory.StartFor(3, Now), Mishaps.All);
        await using var first = await PlantHost.StartAsync();
        await first.SendAsync(story.Facts);
        await first.SettleAsync(1);
        var file = Path.Combine(first.Folder, "records.jsonl");
        long exported;
        await using (var stream = File.Create(file)) exported = await Imports.Records.ExportAsync(first.Database, stream, CancellationToken.None);

        await using var second = await PlantHost.StartAsync();
        var recorder = second.Services.GetRequiredService<Recording.Recorder>();
        Assert.Equal(exported, await Imports.Records.ImportAsync(recorder, file, CancellationToken.None));
        Assert.Equal(0, await Imports.Records.ImportAsync(recorder, file, CancellationToken.None));
        await second.SettleAsync(exported);

        Assert.Equal(await LeavesAsync(first), await LeavesAsync(second));
        var again = Path.Combine(first.Folder, "again.jsonl");
        await using (var stream = File.Create(again)) await Imports.Records.ExportAsync(second.Database, stream, CancellationToken.None);
        Assert.Equal(await File.ReadAllBytesAsync(file), await File.ReadAllBytesAsync(again));
        foreach (var unit in story.Units) Assert.Equal((await first.JudgeAsync(unit, Now)).Hash, (await second.JudgeAsync(unit, Now)).Hash);
    }

    [Fact]
    public async Task An_export_whose_times_were_changed_is_not_imported_and_what_is_recorded_after_an_import_follows_it()
    {
        var story = PlantStory.RigidFrame(35, 1, PlantStory.StartFor(1, Now));
        await using var first = await PlantHost.StartAsync(false, ["web"]);
        await first.SendAsync(story.Facts.Take(3));
        await first.SendAsync(story.Facts.Skip(3).Take(3));
        var file = Path.Combine(first.Folder, "records.jsonl");
        await using (var stream = File.Create(file)) await Imports.Records.ExportAsync(first.Database, stream, CancellationToken.None);
        var lines = await File.ReadAllLinesAsync(file);
        var changed = Path.Combine(first.Folder, "changed.jsonl");
        await File.WriteAllLinesAsync(changed, [lines[^1], .. lines[..^1]]);

        await using var second = await PlantHost.StartAsync(false, ["web"]);
        var recorder = second.Services.GetRequiredService<Recording.Recorder>();
        var refused = await Assert.ThrowsAsync<InvalidDataException>(() => Imports.Records.ImportAsync(recorder, changed, CancellationToken.None));
        Assert.Contains("before one in front of it", refused.Message, StringComparison.Ordinal);
        Assert.Equal(0, await second.ScalarAsync("select count(*) from trace.record"));

        // From a machine whose clock was a day ahead.
        var ahead = lines.Select(l => System.Text.RegularExpressions.Regex.Replace(l, "\"recordedAt\":\"([^\"]+)\"", m => $"\"recordedAt\":\"{DateTimeOffset.Parse(m.Groups[1].Value, System.Globalization.CultureInfo.InvariantCulture).AddDays(1):yyyy-MM-dd'T'HH:mm:ss.ffffff'Z'}\""));
        await File.WriteAllLinesAsync(changed, ahead);
        Assert.Equal(lines.Length, await Imports.Records.ImportAsync(recorder, changed, CancellationToken.None));
        await second.SendAsync(story.Facts.Skip(6).Take(1));
        Assert.Equal(0, await second.ScalarAsync("select count(*) from (select recorded_at < lag(recorded_at) over (order by position) as back from trace.record) x where back"));
        Assert.Equal(lines.Length + 1, await second.ScalarAsync("select count(*) from trace.record"));
    }

    private static async Task<string> LeavesAsync(PlantHost host)
    {
        var leaves = new List<byte[]>();
        await using var command = host.Database.CreateCommand("select hash from trace.log_leaf order by index");
        await using var reader = await command.ExecuteReaderAsync();
        while (await reader.ReadAsync()) leaves.Add(reader.GetFieldValue<byte[]>(0));
        return Convert.ToHexStringLower(Traceability.Service.Log.Merkle.Root(leaves));
    }
}
