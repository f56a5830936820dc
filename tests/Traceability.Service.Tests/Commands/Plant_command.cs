using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Commands;
using Traceability.Service.Log;
using Traceability.Service.Operations;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Commands;

/// <summary>The verbs over a real store: answers, exit codes, and that what is refused changes nothing.</summary>
public sealed class Plant_command
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Recall_replay_and_rebuild_answer_what_the_interface_answers()
    {
        var story = PlantStory.RigidFrame(91, 2, PlantStory.StartFor(2, Now), Mishaps.LateMillCertificate);
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(story.Facts);
        await host.SettleAsync(story.Facts.Count);

        var recall = await RunAsync(host, ["recall", "lot:mill-b/B61377", "--json"]);
        Assert.Equal((await host.GetAsync("/v1/recall/lot:mill-b/B61377")).GetRawText(), recall.Out.Trim());
        var csv = await RunAsync(host, ["recall", "lot:mill-b/B61377", "--csv"]);
        Assert.Equal(2, csv.Out.Split("\r\n", StringSplitOptions.RemoveEmptyEntries).Length);
        Assert.Contains("certainly in 1, possibly in 0", (await RunAsync(host, ["recall", "lot:mill-b/B61377"])).Out, StringComparison.Ordinal);

        var position = await host.ScalarAsync("select position from trace.record where type = 'cage.tied.v1' limit 1");
        var then = JsonDocument.Parse((await RunAsync(host, ["replay", "unit", story.Units[0], "--position", $"{position}", "--json"])).Out).RootElement;
        Assert.Equal((await host.GetAsync($"/v1/units/{story.Units[0]}?position={position}")).GetProperty("judgement").GetString(), then.GetProperty("judgement").GetProperty("hash").GetString());
        Assert.Contains("units in the plant", (await RunAsync(host, ["replay", "board", "--position", $"{position}"])).Out, StringComparison.Ordinal);
        var changes = JsonDocument.Parse((await RunAsync(host, ["replay", "changes", "--from", $"{position}", "--json"])).Out).RootElement;
        Assert.Equal(await host.ScalarAsync($"select count(*) from trace.record where position > {position}"), changes.GetProperty("records").GetInt64());
        var pour = story.Facts.First(f => f.Event.Type == "pour.placed.v1").Event.Data.GetProperty("pour").GetString()!;
        Assert.Contains(story.Units[0], (await RunAsync(host, ["replay", "pour", pour])).Out, StringComparison.Ordinal);

        var rows = await host.ScalarAsync("select count(*) from trace.reach");
        Assert.Contains($"links of {story.Facts.Count} records rebuilt", (await RunAsync(host, ["rebuild", "links"])).Out, StringComparison.Ordinal);
        Assert.Contains("2 units rebuilt", (await RunAsync(host, ["rebuild", "units"])).Out, StringComparison.Ordinal);
        await host.SettleAsync(story.Facts.Count);
        Assert.Equal(rows, await host.ScalarAsync("select count(*) from trace.reach"));

        foreach (var (args, exit) in new[]
        {
            (new[] { "recall", "lot:nobody/1" }, ExitCodes.Wrong), (["recall", "nonsense"], ExitCodes.Called), (["recall"], ExitCodes.Called), (["nothing"], ExitCodes.Called),
            (["replay", "unit", story.Units[0], "--at", "yesterday"], ExitCodes.Called), (["replay", "unit", "NOBODY"], ExitCodes.Wrong), (["rebuild", "everything"], ExitCodes.Called),
            (["replay", "decision", Guid.Empty.ToString()], ExitCodes.Wrong), (["import", "not-there.jsonl"], ExitCodes.Called), (["log", "new-origin", "x.example/log"], ExitCodes.Called),
        })
        {
            var said = await RunAsync(host, args);
            Assert.True(exit == said.Exit, $"{string.Join(' ', args)}: {said.Exit} {said.Error}");
            Assert.NotEmpty(said.Error);
        }
    }

    [Fact]
    public async Task Facts_set_apart_are_listed_shown_and_let_through_by_an_administrator_with_the_PIN_alone()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var recorder = host.Services.GetRequiredService<Recorder>();
        var quarantined = Oiled("q-1");
        await recorder.RecordAsync([new Received(quarantined.Canonical.ToArray(), "form-1", "intake", Now, "a reason of the test")], CancellationToken.None);
        await host.ExecuteAsync("create unique index fault on trace.record ((1)) where source = '/plant/form-1'");
        await recorder.RecordAsync([new Received(Oiled("p-0").Canonical.ToArray(), "form-1", "intake", Now)], CancellationToken.None);
        var parked = Oiled("p-1");
        await recorder.RecordAsync([new Received(parked.Canonical.ToArray(), "form-1", "intake", Now)], CancellationToken.None);
        var administrator = Plant.Administrator.Id;
        var pin = host.Credentials.Person(administrator).Pin;
        string[] clear = ["quarantined", "clear", quarantined.RecordId.ToString(), "--person"];

        Assert.Contains("a reason of the test", (await RunAsync(host, ["quarantined", "list"])).Out, StringComparison.Ordinal);
        Assert.Contains("Water-based", (await RunAsync(host, ["quarantined", "show", quarantined.RecordId.ToString()])).Out, StringComparison.Ordinal);
        Assert.Equal(ExitCodes.Called, (await RunAsync(host, clear[..3])).Exit);
        Assert.Equal(ExitCodes.Wrong, (await RunAsync(host, [.. clear, administrator], pin + "0")).Exit);
        Assert.Equal(ExitCodes.Wrong, (await RunAsync(host, [.. clear, administrator])).Exit);
        Assert.Equal(ExitCodes.Wrong, (await RunAsync(host, [.. clear, Plant.QualityEngineer.Id], host.Credentials.Person(Plant.QualityEngineer.Id).Pin)).Exit);
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.quarantine where cleared_at is null"));

        string[] redrive = ["parked", "redrive", parked.RecordId.ToString(), "--person", administrator];
        Assert.Equal(ExitCodes.Wrong, (await RunAsync(host, redrive, pin)).Exit);
        Assert.Equal(ExitCodes.Wrong, (await RunAsync(host, ["doctor"])).Exit);
        await host.ExecuteAsync("drop index trace.fault");
        Assert.Equal(ExitCodes.Done, (await RunAsync(host, redrive, pin)).Exit);
        var cleared = await RunAsync(host, [.. clear, administrator, "--json"], pin);

        Assert.Equal("recorded", JsonDocument.Parse(cleared.Out).RootElement.GetProperty("status").GetString());
        Assert.Contains((await host.DossierAsync("RF-0001")).Records, r => r.Assurance == $"intake, cleared by {administrator}");
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.parked where redriven_at is null"));
        Assert.Equal(ExitCodes.Wrong, (await RunAsync(host, ["parked", "show", Guid.Empty.ToString()])).Exit);
    }

    [Fact]
    public async Task After_a_new_origin_the_export_holds_the_first_leaf_leads_to_the_signed_root_and_can_be_imported()
    {
        var story = PlantStory.RigidFrame(92, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(story.Facts);
        await host.SettleAsync(story.Facts.Count);
        await PlantHost.EventuallyAsync(async () => await host.ScalarAsync("select coalesce(max(size), 0) from trace.checkpoint") == story.Facts.Count, "sealed");
        await host.StopAsync(host.App);

        var begun = await RunAsync(host, ["log", "new-origin", "test.example/log-2", "--yes"]);
        Assert.True(begun.Exit == ExitCodes.Done, begun.Error);
        var file = Path.Combine(host.Folder, "records.jsonl");
        Assert.Contains($"{story.Facts.Count} records exported", (await RunAsync(host, ["export", file])).Out, StringComparison.Ordinal);
        Assert.Contains("test.example/log-2", (await RunAsync(host, ["log", "status"])).Out, StringComparison.Ordinal);

        Assert.Contains("\"continues\"", File.ReadLines(file).First(), StringComparison.Ordinal);
        var checkpoint = Path.Combine(host.Folder, "checkpoint.txt");
        await using (var note = Npgsql.NpgsqlDataSource.Create(host.ConnectionString))
        await using (var read = note.CreateCommand("select note from trace.checkpoint where origin = 'test.example/log-2' order by size desc limit 1"))
            await File.WriteAllTextAsync(checkpoint, (string)(await read.ExecuteScalarAsync())!);
        using var said = new StringWriter();
        var key = LogKey.LineFile(Path.Combine(host.Folder, "signer", "log-key.pem"));
        Assert.True(Verifier.Command.Run(["--log", file, "--checkpoint", checkpoint, "--key", key], said, said) == Verifier.Command.Ok, said.ToString());

        await using var second = await PlantHost.StartAsync(false, ["web"]);
        Assert.Contains($"{story.Facts.Count} records imported", (await RunAsync(second, ["import", file])).Out, StringComparison.Ordinal);
        Assert.Equal((await second.JudgeAsync(story.Units[0], Now)).Hash, (await second.JudgeAsync(story.Units[0], Now)).Hash);
        Assert.Equal(story.Facts.Count, await second.ScalarAsync("select count(*) from trace.record"));
    }

    [Fact]
    public async Task The_doctor_finds_a_sound_installation_sound_and_names_what_is_wrong_with_what_to_do()
    {
        await using var host = await PlantHost.StartAsync();
        var sound = await RunAsync(host, ["doctor", "--json"]);
        Assert.True(sound.Exit == ExitCodes.Done, sound.Out);
        var seen = JsonDocument.Parse(sound.Out).RootElement.EnumerateArray().Select(e => e.GetProperty("what").GetString()).ToList();
        Assert.Superset(new HashSet<string?> { "database", "schema", "durability", "clock", "disk", "broker", "key file", "subscriptions", "parked", "quarantined", "people" }, seen.ToHashSet());

        var lone = await RunAsync(host, ["doctor", "--json"], "", "--Bus=rabbitmq", "--ConnectionStrings:RabbitMq=amqp://127.0.0.1:1/", "--ConnectionStrings:Postgres=Host=127.0.0.1;Port=1;Database=none;Timeout=2");
        Assert.Equal(ExitCodes.Wrong, lone.Exit);
        var wrong = JsonDocument.Parse(lone.Out).RootElement.EnumerateArray().Where(e => e.GetProperty("condition").GetString() == "wrong").ToList();
        Assert.Equal(["broker", "database"], wrong.Select(e => e.GetProperty("what").GetString()).Order(StringComparer.Ordinal));
        Assert.All(wrong, e => Assert.NotEmpty(e.GetProperty("do").GetString()!));
        Assert.Equal(ExitCodes.Away, (await RunAsync(host, ["parked", "list"], "", "--ConnectionStrings:Postgres=Host=127.0.0.1;Port=1;Database=none;Timeout=2")).Exit);
    }

    [Fact]
    public async Task A_profile_with_a_mistake_is_named_with_its_line_and_every_verb_has_help()
    {
        using var folder = new Verifying.SamplePacket();
        var file = folder.Beside("agency.yaml", Encoding.UTF8.GetBytes("name: agency\n  nonsense: [\n"));
        using var output = new StringWriter();
        using var error = new StringWriter();
        var terminal = new Terminal(TextReader.Null, output, error, []);
        Assert.Equal(ExitCodes.Wrong, await CommandLine.RunAsync(["profile", "check", file], terminal));
        Assert.Contains("agency.yaml:", error.ToString(), StringComparison.Ordinal);

        foreach (var verb in new[] { "recall", "replay", "rebuild", "parked", "quarantined", "export", "import", "log", "profile", "people", "devices", "doctor" })
        {
            output.GetStringBuilder().Clear();
            Assert.Equal(ExitCodes.Done, await CommandLine.RunAsync([verb, "--help"], terminal));
            Assert.Contains("plant " + verb, output.ToString(), StringComparison.Ordinal);
        }
    }

    private static CloudEvent Oiled(string id) => CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id, source = "/plant/form-1", type = "form.oiled.v1", time = "2026-03-02T09:30:00-05:00", datacontenttype = "application/json", person = Plant.FormForeman.Id,
        data = new { form = "RF-FORM-1", unit = "RF-0001", releaseAgent = "Water-based release agent" },
    }));

    private static async Task<(int Exit, string Out, string Error)> RunAsync(PlantHost host, string[] args, string input = "", params string[] settings)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        var exit = await CommandLine.RunAsync(args, new Terminal(new StringReader(input), output, error,
            [$"--ConnectionStrings:Postgres={host.ConnectionString}", $"--Signer:Folder={Path.Combine(host.Folder, "signer")}", "--Signer:Origin=test.example/log", $"--Plant:TimeZone={PlantStory.Zone}", .. settings]));
        return (exit, output.ToString(), error.ToString());
    }
}
