using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Operations;
using Traceability.Service.Pages;
using Traceability.Service.Tests.Hosting;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Decisions;

/// <summary>A release is judged now on fresh records and stored with its basis.</summary>
public sealed class Releasing_a_hold
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task A_ready_hold_is_released_once_with_its_basis_and_later_evidence_contradicts_it()
    {
        var story = PlantStory.RigidFrame(41, 1, PlantStory.StartFor(1, Now), Mishaps.MachineFoundOut);
        await using var host = await PlantHost.StartAsync("--Scenario:Clock=true");
        var clock = host.Services.GetRequiredService<ScenarioClock>();
        using var inspector = await host.SignInAsync(Plant.Inspector);
        var pin = host.Credentials.Person(Plant.Inspector.Id).Pin;
        var sent = 0;
        foreach (var release in story.Releases)
        {
            var due = story.Facts.Skip(sent).TakeWhile(f => f.ArrivesAt <= release.At).ToList();
            clock.Set(release.At);
            await host.SendAsync(due);
            sent += due.Count;
            var path = $"/v1/units/{release.Unit}/releases";
            var hold = release.Hold.ToString();

            var wrongPin = await inspector.PostAsJsonAsync(path, new { hold, pin = pin + "0" });
            Assert.Equal(HttpStatusCode.Forbidden, wrongPin.StatusCode);

            // Two at once: one is recorded, the other learns of it.
            var both = await Task.WhenAll(inspector.PostAsJsonAsync(path, new { hold, pin }), inspector.PostAsJsonAsync(path, new { hold, pin }));
            Assert.True(both.Select(b => b.StatusCode).Order().SequenceEqual([HttpStatusCode.Created, HttpStatusCode.Conflict]),
                await both[0].Content.ReadAsStringAsync() + await both[1].Content.ReadAsStringAsync());
            var answer = await both.Single(b => b.StatusCode == HttpStatusCode.Created).Content.ReadFromJsonAsync<JsonElement>();
            var basis = answer.GetProperty("basis");
            await using var kept = host.Database.CreateCommand("select bytes from trace.judgement where hash = $1");
            kept.Parameters.Add(new() { Value = basis.GetProperty("judgement").GetString()! });
            var asJudged = await host.JudgeAsync(release.Unit, release.At, basis.GetProperty("position").GetInt64());
            Assert.Equal(asJudged.Bytes, (byte[])(await kept.ExecuteScalarAsync())!);
            Assert.Equal(HoldState.Ready, asJudged.Hold(release.Hold).State);
            Assert.Equal(HoldState.Released, (await host.JudgeAsync(release.Unit, release.At)).Hold(release.Hold).State);
        }

        clock.Set(Now);
        await host.SendAsync(story.Facts.Skip(sent));
        var later = await host.JudgeAsync(story.Units[0], Now);
        Assert.Contains(later.Holds, h => h.Contradicted && h.State == HoldState.Released);
        Assert.All(await host.Database.ScenarioAssurancesAsync(), a => Assert.Contains("scenario clock", a, StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_held_hold_is_not_released_and_the_answer_lists_what_stands_in_the_way()
    {
        var story = PlantStory.RigidFrame(42, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        await host.SendAsync(story.Facts.Where(f => FactCatalog.All[f.Event.Type].Clr != typeof(LotCertified)).TakeWhile(f => f.ArrivesAt <= story.Releases[0].At));
        using var inspector = await host.SignInAsync(Plant.Inspector);
        var before = await host.ScalarAsync("select count(*) from trace.record");

        var response = await inspector.PostAsJsonAsync($"/v1/units/{story.Units[0]}/releases", new { hold = "pour", pin = host.Credentials.Person(Plant.Inspector.Id).Pin });

        Assert.Equal(HttpStatusCode.Conflict, response.StatusCode);
        var problem = await response.Content.ReadFromJsonAsync<JsonElement>();
        Assert.Contains(problem.GetProperty("openItems").EnumerateArray(), i => i.GetProperty("requirement").GetString() == "tying.heats-certified" && i.GetProperty("clear").GetString()!.Length > 0);
        Assert.Equal(before, await host.ScalarAsync("select count(*) from trace.record"));
    }

    [Theory]
    [InlineData("the bytes", "update trace.record set bytes = set_byte(bytes, length(bytes) - 3, get_byte(bytes, length(bytes) - 3) # 1) where position = $1")]
    [InlineData("the bytes, which no longer read", "update trace.record set bytes = substring(bytes for 40) where position = $1")]
    [InlineData("the bytes and their hash", "update trace.record set bytes = bytes || ' '::bytea, leaf_hash = sha256('\\x00'::bytea || bytes || ' '::bytea) where position = $1")]
    public async Task A_record_changed_in_the_database_stops_the_release_by_name_until_it_is_put_back(string what, string change)
    {
        var story = PlantStory.RigidFrame(43, 1, PlantStory.StartFor(1, Now));
        var release = story.Releases[0];
        // With the worker, which gives each record its leaf: bytes changed together with their hash still differ from it.
        await using var host = await PlantHost.StartAsync("--Scenario:Clock=true");
        await host.SendAsync(story.Facts.TakeWhile(f => f.ArrivesAt <= release.At));
        host.Services.GetRequiredService<ScenarioClock>().Set(release.At);
        var count = await host.ScalarAsync("select count(*) from trace.record");
        for (var tries = 0; await host.ScalarAsync("select count(*) from trace.log_leaf where position > 0") < count; tries++)
        {
            Assert.True(tries < 300, "After 30 s not every record has its leaf.");
            await Task.Delay(100);
        }

        using var inspector = await host.SignInAsync(Plant.Inspector);
        Task<HttpResponseMessage> ReleaseAsync() => inspector.PostAsJsonAsync($"/v1/units/{release.Unit}/releases", new { hold = release.Hold.ToString(), pin = host.Credentials.Person(Plant.Inspector.Id).Pin });
        var (position, type, bytes, leaf) = await OneBearingOnAsync(host, release.Unit);
        await RunAsync(host, change, position);

        var refused = await ReleaseAsync();

        Assert.True(refused.StatusCode == HttpStatusCode.Conflict, what + ": " + await refused.Content.ReadAsStringAsync());
        var problem = await refused.Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal("/problems/record-changed", problem.GetProperty("type").GetString());
        Assert.Equal(position, problem.GetProperty("position").GetInt64());
        Assert.Contains(Words.OfType(type), problem.GetProperty("detail").GetString()!, StringComparison.Ordinal);
        Assert.Equal(count, await host.ScalarAsync("select count(*) from trace.record"));

        await RunAsync(host, "update trace.record set bytes = $2, leaf_hash = $3 where position = $1", position, bytes, leaf);
        var released = await ReleaseAsync();
        Assert.True(released.StatusCode == HttpStatusCode.Created, await released.Content.ReadAsStringAsync());
    }

    private static async Task<(long Position, string Type, byte[] Bytes, byte[] Leaf)> OneBearingOnAsync(PlantHost host, string unit)
    {
        await using var command = host.Database.CreateCommand("select r.position, r.type, r.bytes, r.leaf_hash from trace.about a join trace.record r using (position) where a.subject = $1 order by position limit 1");
        command.Parameters.Add(new() { Value = Core.Records.Subject.Unit(unit).Key });
        await using var row = await command.ExecuteReaderAsync();
        Assert.True(await row.ReadAsync());
        return (row.GetInt64(0), row.GetString(1), row.GetFieldValue<byte[]>(2), row.GetFieldValue<byte[]>(3));
    }

    private static async Task RunAsync(PlantHost host, string sql, params object[] values)
    {
        await using var command = host.Database.CreateCommand(sql);
        foreach (var value in values) command.Parameters.Add(new() { Value = value });
        Assert.Equal(1, await command.ExecuteNonQueryAsync());
    }

    [Fact]
    public async Task After_five_wrong_PINs_even_the_right_one_has_to_wait()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var inspector = await host.SignInAsync(Plant.Inspector);
        Task<HttpResponseMessage> TryAsync(string? pin) => inspector.PostAsJsonAsync("/v1/units/X/releases", new { hold = "pour", pin });
        foreach (var pin in new[] { "0", "", null, "1", "2" }) Assert.True((await TryAsync(pin)).StatusCode is HttpStatusCode.Forbidden or HttpStatusCode.BadRequest);
        await TryAsync("3");
        Assert.Equal(HttpStatusCode.TooManyRequests, (await TryAsync(host.Credentials.Person(Plant.Inspector.Id).Pin)).StatusCode);
    }

    [Fact]
    public async Task A_person_without_the_role_cannot_release()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var yard = await host.SignInAsync(Plant.YardForeman);
        var response = await yard.PostAsJsonAsync("/v1/units/X/releases", new { hold = "pour", pin = host.Credentials.Person(Plant.YardForeman.Id).Pin });
        Assert.Equal(HttpStatusCode.Forbidden, response.StatusCode);
    }
}

internal static class ScenarioRecords
{
    public static async Task<List<string>> ScenarioAssurancesAsync(this Npgsql.NpgsqlDataSource source)
    {
        var found = new List<string>();
        await using var command = source.CreateCommand("select bytes from trace.record");
        await using var reader = await command.ExecuteReaderAsync();
        while (await reader.ReadAsync()) found.Add(Core.Records.Record.Read(reader.GetFieldValue<byte[]>(0), 0).Assurance);
        return found;
    }
}
