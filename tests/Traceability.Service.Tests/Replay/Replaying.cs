using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Operations;
using Traceability.Service.Replay;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Replay;

/// <summary>A unit, a pour, the board and a decision as known at other moments.</summary>
public sealed class Replaying
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task A_unit_a_pour_a_decision_and_the_board_are_shown_as_known_then_and_what_changed_since()
    {
        var story = PlantStory.RigidFrame(81, 1, PlantStory.StartFor(1, Now));
        var unit = story.Units[0];
        await using var host = await PlantHost.StartAsync("--Scenario:Clock=true", "--Plant:TimeZone=America/New_York");
        var clock = host.Services.GetRequiredService<ScenarioClock>();
        using var inspector = await host.SignInAsync(Plant.Inspector);
        var release = story.Releases[0];
        var early = story.Facts.TakeWhile(f => f.ArrivesAt <= release.At).ToList();
        clock.Set(release.At.AddMinutes(-10));
        await host.SendAsync(early);
        clock.Set(release.At);
        var answer = await (await inspector.PostAsJsonAsync($"/v1/units/{unit}/releases", new { hold = "pour", pin = host.Credentials.Person(Plant.Inspector.Id).Pin })).Content.ReadFromJsonAsync<JsonElement>();
        var (id, basis) = (answer.GetProperty("release").GetGuid(), answer.GetProperty("basis"));
        clock.Set(Now);
        await host.SendAsync(story.Facts.Skip(early.Count));
        var before = basis.GetProperty("position").GetInt64();
        var moment = Uri.EscapeDataString(release.At.AddMinutes(-1).ToString("yyyy-MM-dd'T'HH:mm:sszzz"));

        // The unit a minute before its release, by moment and by position, is what it was judged to be.
        var then = await host.GetAsync($"/v1/units/{unit}?at={moment}");
        Assert.Equal(before, then.GetProperty("position").GetInt64());
        Assert.True(then.GetProperty("asKnownThen").GetBoolean());
        Assert.Equal((await host.JudgeAsync(unit, release.At.AddMinutes(-1), before)).Hash, then.GetProperty("judgement").GetString());
        var byPosition = await host.GetAsync($"/v1/units/{unit}?position={before}");
        Assert.Equal("ready", Hold(byPosition, "pour"));
        Assert.NotEqual("ready", Hold(await host.GetAsync($"/v1/units/{unit}"), "pour"));

        // The decision: what was kept, and the same records under today's rules.
        var decision = await host.GetAsync($"/v1/replay/decisions/{id}");
        Assert.True(decision.GetProperty("same").GetBoolean() && decision.GetProperty("intact").GetBoolean());
        Assert.Equal(basis.GetProperty("judgement").GetString(), decision.GetProperty("stored").GetProperty("hash").GetString());
        Assert.Equal(Core.Judging.Rules.Version, decision.GetProperty("underTodaysRules").GetProperty("rules").GetString());

        // What changed: the release among the records, the pour hold among the holds; and nothing between a moment and itself.
        var changed = (await host.GetAsync($"/v1/replay/units/{unit}/changes?from={before}&to={before + 1}")).GetProperty("change");
        Assert.Equal(id, Assert.Single(changed.GetProperty("records").EnumerateArray()).GetProperty("record").GetGuid());
        var hold = Assert.Single(changed.GetProperty("holds").EnumerateArray());
        Assert.Equal(("pour", "ready", "released"), (hold.GetProperty("kind").GetString(), hold.GetProperty("before").GetProperty("state").GetString(), hold.GetProperty("after").GetProperty("state").GetString()));
        var same = (await host.GetAsync($"/v1/replay/units/{unit}/changes?from={before}&to={before}")).GetProperty("change");
        Assert.Empty(same.GetProperty("records").EnumerateArray().Concat(same.GetProperty("holds").EnumerateArray()).Concat(same.GetProperty("findings").EnumerateArray()));
        var plant = await host.GetAsync($"/v1/replay/changes?from={moment}");
        Assert.Equal(await host.ScalarAsync($"select count(*) from trace.record where position > {before}"), plant.GetProperty("records").GetInt64());
        Assert.Contains(plant.GetProperty("units").EnumerateArray(), u => u.GetProperty("unit").GetString() == unit && u.GetProperty("findings").GetArrayLength() > 5);

        // The pour, and the board of then.
        var pour = story.Facts.First(f => f.Event.Type == "pour.placed.v1").Event.Data.GetProperty("pour").GetString();
        var poured = await host.GetAsync($"/v1/replay/pours/{pour}");
        Assert.Equal(unit, Assert.Single(poured.GetProperty("units").EnumerateArray()).GetProperty("unit").GetString());
        Assert.Equal(HttpStatusCode.NotFound, (await inspector.GetAsync($"/v1/replay/pours/{pour}?position={before}")).StatusCode);
        var board = await inspector.GetFromJsonAsync<JsonElement>($"/v1/replay/board?position={before}");
        Assert.Equal((1, before), (board.GetProperty("unitsInPlant").GetInt32(), board.GetProperty("position").GetInt64()));
        Assert.Contains(board.GetProperty("questions")[0].GetProperty("lines").EnumerateArray(), l => l.GetProperty("name").GetString()!.Contains(unit, StringComparison.Ordinal));

        foreach (var path in new[] { $"/v1/units/{unit}?position=x", $"/v1/units/{unit}?at=yesterday", $"/v1/units/{unit}?position=1&at={moment}", $"/v1/replay/units/{unit}/changes", $"/v1/replay/changes?from=5&to=1" })
            Assert.Equal(HttpStatusCode.UnprocessableEntity, (await inspector.GetAsync(path)).StatusCode);

        // The same on pages.
        var page = await inspector.PageAsync($"/units/{unit}?position={before}");
        Assert.Contains("Next record", page.Html, StringComparison.Ordinal);
        Assert.Contains($"As known at log position {before}", PageVisitor.Text(page.Html), StringComparison.Ordinal);
        Assert.Contains($"As known at log position {before}", PageVisitor.Text((await inspector.PageAsync($"/units/{unit}?at={release.At.AddMinutes(-1).ToOffset(TimeSpan.FromHours(-4)):yyyy-MM-ddTHH:mm}")).Html), StringComparison.Ordinal);
        Assert.Contains("ready → released", PageVisitor.Text((await inspector.PageAsync($"/replay/units/{unit}?from={before}&to={before + 1}")).Html), StringComparison.Ordinal);
        Assert.Contains(unit, (await inspector.PageAsync($"/replay/changes?from={before}")).Html, StringComparison.Ordinal);
        Assert.Contains("The same.", (await inspector.PageAsync($"/replay/decisions/{id}")).Html, StringComparison.Ordinal);
        Assert.Contains("Board of then", (await inspector.PageAsync($"/?position={before}")).Html, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await inspector.PageAsync($"/replay/changes?from=5&to=1")).Status);
    }

    [Fact]
    public void Judgements_of_other_rules_are_compared_by_what_their_bytes_say()
    {
        var before = Text("2025.1", "met", "held", 2, """{"hold":"pour","requirement":"gone","subject":"unit:A","title":"G","verdict":"met","reason":""}""");
        var after = Text("2026.2", "notMet", "ready", 0, """{"hold":"ship","requirement":"new","subject":"unit:A","title":"N","verdict":"pending","reason":""}""");

        var changes = JudgementChanges.Between(before, after);

        Assert.Equal(["met>notMet cover", "met> gone", ">pending new"], changes.Findings.Select(f => $"{f.Before?.Verdict}>{f.After?.Verdict} {f.Either.Requirement}"));
        Assert.Equal([("pour", "held", "ready")], changes.Holds.Select(h => (h.Kind, h.Before!.State, h.After!.State)));
        Assert.True(JudgementChanges.Between(after, after).None);
    }

    private static JudgementText Text(string rules, string verdict, string state, int open, string more) => JudgementText.Read(Encoding.UTF8.GetBytes(
        $$"""{"rules":"{{rules}}","profile":"p@1","findings":[{"hold":"pour","requirement":"cover","subject":"unit:A","title":"Cover","verdict":"{{verdict}}","reason":"r"},{"hold":"pour","requirement":"same","subject":"unit:A","title":"S","verdict":"met","reason":""},{{more}}],"holds":[{"kind":"pour","state":"{{state}}","openItems":[{{string.Join(',', Enumerable.Repeat("{}", open))}}]}]}"""));

    private static string? Hold(JsonElement unit, string kind) => unit.GetProperty("holds").EnumerateArray().First(h => h.GetProperty("kind").GetString() == kind).GetProperty("state").GetString();
}
