using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Operations;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Decisions;

/// <summary>The review of a period and the list of nonconformances, read from the log over the interface and on the pages.</summary>
public sealed class Reviewing
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    private static StoryFact From(Station station, Worker worker, IFact fact, DateTimeOffset at) => new(CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id = Guid.NewGuid().ToString(), source = station.Source, type = FactCatalog.Of(fact).Type, time = at.ToString("O", System.Globalization.CultureInfo.InvariantCulture),
        person = worker.Id, clockoffsetms = 0, data = FactCatalog.Write(fact),
    })), station.Device, at, false);

    [Fact]
    public async Task A_period_shows_late_blocks_breaches_and_a_correction_from_a_station_that_turned_not_met_into_met()
    {
        var story = PlantStory.RigidFrame(71, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync(false, ["web"], "--Scenario:Clock=true");
        var clock = host.Services.GetRequiredService<ScenarioClock>();
        var inspected = story.Facts.First(f => f.Event.Type == FactCatalog.Of<CloseUpInspected>().Type);
        var whole = JsonNode.Parse(inspected.Event.Canonical.Span)!.AsObject();
        whole["data"]!["covers"]![0]!["coverIn"] = "1/4";
        var wrong = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(whole));
        var poured = story.Facts.First(f => f.Event.Type == FactCatalog.Of<PourPlaced>().Type);
        foreach (var fact in story.Facts.TakeWhile(f => f.ArrivesAt <= poured.ArrivesAt))
        {
            clock.Set(fact.ArrivesAt);
            await host.SendAsync([fact == inspected ? fact with { Event = wrong } : fact]);
        }

        var correction = new RecordCorrected(wrong.RecordId, 1, wrong.Type, inspected.Event.Data, "tape read at the wrong bar");
        clock.Set(poured.ArrivesAt.AddHours(20));
        await host.SendAsync([From(Plant.Office, Plant.QualityEngineer, correction, poured.ArrivesAt.AddHours(20))]);
        await host.SendAsync(Enumerable.Range(0, 6).Select(i => From(Plant.FormHall, Plant.FormForeman, new FormOiled("F-9", $"U-{i}", "agent"), poured.ArrivesAt.AddHours(i))));
        clock.Set(poured.ArrivesAt.AddHours(21));
        using var auditor = await host.SignInAsync(Plant.Auditor);

        var review = await auditor.GetFromJsonAsync<JsonElement>("/v1/integrity");

        Assert.True(review.GetProperty("whole").GetBoolean());
        var kinds = review.GetProperty("notes").EnumerateArray().Select(n => (Kind: n.GetProperty("kind").GetString(), Words: n.GetProperty("words").GetString()!)).ToList();
        Assert.Contains(kinds, k => k.Kind == "lateBlock" && k.Words.Contains(Plant.FormForeman.Id, StringComparison.Ordinal));
        Assert.Contains(kinds, k => k.Kind == "turnedByChange" && k.Words.Contains($"approved by {Plant.DeputyEngineer.Id}", StringComparison.Ordinal) && k.Words.Contains("close-up.cover", StringComparison.Ordinal));
        Assert.Contains(kinds, k => k.Kind == "breach" && k.Words.Contains("without a release", StringComparison.Ordinal));

        var day = DateOnly.FromDateTime(poured.ArrivesAt.UtcDateTime);
        var page = await auditor.PageAsync($"/integrity?from={day.AddDays(-3):yyyy-MM-dd}&through={day.AddDays(3):yyyy-MM-dd}");
        Assert.Equal(HttpStatusCode.OK, page.Status);
        Assert.All(kinds, k => Assert.Contains(k.Words, PageVisitor.Text(page.Html), StringComparison.Ordinal));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await auditor.PageAsync("/integrity?from=2026-01-01&through=2026-12-31")).Status);
    }

    [Fact]
    public async Task Nonconformances_stand_by_age_with_whose_answer_is_awaited_and_a_repair_that_began_too_early()
    {
        var story = PlantStory.RigidFrame(72, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync(false, ["web"], "--Scenario:Clock=true");
        var at = story.Releases[0].At;
        host.Services.GetRequiredService<ScenarioClock>().Set(at.AddDays(10));
        var unit = story.Units[0];
        await host.SendAsync(story.Facts.TakeWhile(f => f.ArrivesAt <= at));
        StoryFact Office(IFact fact, int hours) => From(Plant.Office, Plant.QualityEngineer, fact, at.AddHours(hours));
        await host.SendAsync(
        [
            Office(new NonconformanceRaised("NC-2", [unit], NonconformanceClass.Minor, false, "Bug holes at the bulkhead"), 5),
            Office(new NonconformanceRaised("NC-1", [unit], NonconformanceClass.Major, true, "Crack at the corner"), 1),
            Office(new NonconformanceDisposed("NC-1", DispositionKind.Repair, "Procedure R-4"), 2),
            From(Plant.Yard, Plant.YardForeman, new UnitRepaired(unit, "R-4", at.AddHours(3), at.AddHours(4), "NC-1"), at.AddHours(4)),
        ]);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        var text = PageVisitor.Text((await engineer.PageAsync("/nonconformances")).Html);
        Assert.True(text.IndexOf("NC-1", StringComparison.Ordinal) < text.IndexOf("NC-2", StringComparison.Ordinal));
        Assert.Contains("engineer of record: letter", text, StringComparison.Ordinal);
        Assert.Contains("quality engineer: disposition", text, StringComparison.Ordinal);
        Assert.Contains("began before the letter it needs was there", text, StringComparison.Ordinal);

        await host.SendAsync([Office(new NonconformanceApproved("NC-1", Approver.EngineerOfRecord, "L-7", at.AddHours(6), []), 6)]);
        text = PageVisitor.Text((await engineer.PageAsync("/nonconformances")).Html);
        Assert.Contains("approved: L-7", text, StringComparison.Ordinal);
        Assert.Contains("began before the letter it needs was there", text, StringComparison.Ordinal);
        Assert.Contains("quality engineer: closing", text, StringComparison.Ordinal);

        var pin = host.Credentials.Person(Plant.QualityEngineer.Id).Pin;
        using var decided = await engineer.PostFormAsync("/nonconformances", "/nonconformances", ("nonconformance", "NC-2"), ("disposition", "use-as-is"), ("procedure", "cosmetic"), ("pin", pin));
        Assert.Contains("NC-2: use-as-is decided and recorded.", await decided.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        using var inspector = await host.SignInAsync(Plant.Inspector);
        Assert.DoesNotContain("name=\"pin\"", (await inspector.PageAsync("/nonconformances")).Html, StringComparison.Ordinal);
    }
}
