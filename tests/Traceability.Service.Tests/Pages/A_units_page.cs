using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Operations;
using Traceability.Service.Tests.Hosting;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Pages;

/// <summary>A unit's page judges now, shows everything that stands in the way, and releases by the same rules as the service.</summary>
public sealed class A_units_page
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Without_any_view_it_shows_every_finding_record_and_hold_of_the_unit()
    {
        var story = PlantStory.RigidFrame(51, 1, PlantStory.StartFor(1, Now), Mishaps.CoverMistyped | Mishaps.LowStripSet | Mishaps.TicketTwice);
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        await host.SendAsync(story.Facts);
        using var auditor = await host.SignInAsync(Plant.Auditor);

        var (status, html) = await auditor.PageAsync("/units/" + story.Units[0]);

        Assert.Equal(HttpStatusCode.OK, status);
        var text = PageVisitor.Text(html);
        var judgement = await host.JudgeAsync(story.Units[0], TimeProvider.System.GetUtcNow());
        Assert.All(judgement.Findings, f => Assert.Contains(Squeezed(f.Reason), text, StringComparison.Ordinal));
        Assert.All(judgement.Findings.Where(f => f.Limit.Length > 0), f => Assert.Contains(Squeezed(f.Limit), text, StringComparison.Ordinal));
        Assert.All(judgement.Findings, f => Assert.Contains(f.Source.Document, text, StringComparison.Ordinal));
        // Nothing was released in this store: every step taken is an alarm.
        Assert.Contains(judgement.Alarms, a => a.Alarm.Kind == AlarmKind.PassedWithoutRelease);
        Assert.All(judgement.Alarms, a => Assert.Contains(Squeezed(a.Alarm.Words), text, StringComparison.Ordinal));
        foreach (var bearing in story.Facts.Where(f => f.Event.Type is not ("person.certified.v1" or "inspector.assigned.v1" or "instrument.calibrated.v1" or "lot.received.v1" or "lot.certified.v1")))
            Assert.Contains($"/records/{bearing.Event.RecordId}", html, StringComparison.Ordinal);
        Assert.Contains("replaced", text, StringComparison.Ordinal);
        Assert.Contains("same again", text, StringComparison.Ordinal);
        Assert.DoesNotContain("name=\"pin\"", html, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_ready_hold_is_released_on_the_page_with_the_pin_and_only_by_those_who_may()
    {
        var story = PlantStory.RigidFrame(52, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync(false, ["web"], "--Scenario:Clock=true");
        var release = story.Releases[0];
        await host.SendAsync(story.Facts.TakeWhile(f => f.ArrivesAt <= release.At));
        host.Services.GetRequiredService<ScenarioClock>().Set(release.At);
        var path = "/units/" + release.Unit;
        using var inspector = await host.SignInAsync(Plant.Inspector);
        using var yard = await host.SignInAsync(Plant.YardForeman);
        var pin = host.Credentials.Person(Plant.Inspector.Id).Pin;
        Assert.DoesNotContain("name=\"pin\"", (await yard.PageAsync(path)).Html, StringComparison.Ordinal);
        Assert.Contains("scenario clock", (await yard.PageAsync(path)).Html, StringComparison.Ordinal);

        using var outsider = await yard.PostFormAsync("/sign-out", path, ("hold", "Pour"), ("pin", host.Credentials.Person(Plant.YardForeman.Id).Pin));
        Assert.Equal("/not-allowed", outsider.Headers.Location?.AbsolutePath);
        using var wrong = await inspector.PostFormAsync(path, path, ("hold", "Pour"), ("pin", pin + "1"));
        Assert.Equal(HttpStatusCode.Forbidden, wrong.StatusCode);
        Assert.Contains("The PIN is not right", await wrong.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.record where type = 'pour.released.v1'"));

        using var right = await inspector.PostFormAsync(path, path, ("hold", "Pour"), ("pin", pin), ("note", "Placed as drawn."));
        Assert.Equal(HttpStatusCode.Redirect, right.StatusCode);
        Assert.Contains("Pour hold released", PageVisitor.Text((await inspector.PageAsync(right.Headers.Location!.OriginalString)).Html), StringComparison.Ordinal);
        Assert.Equal(HoldState.Released, (await host.JudgeAsync(release.Unit, release.At)).Hold(HoldKind.Pour).State);

        using var again = await inspector.PostFormAsync("/sign-out", path, ("hold", "Pour"), ("pin", pin));
        Assert.Equal(HttpStatusCode.Conflict, again.StatusCode);
        Assert.Contains("Already released", await again.Content.ReadAsStringAsync(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_hold_that_is_not_ready_any_more_is_answered_with_what_stands_in_the_way()
    {
        var story = PlantStory.RigidFrame(53, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        await host.SendAsync(story.Facts.Where(f => FactCatalog.All[f.Event.Type].Clr != typeof(LotCertified)).TakeWhile(f => f.ArrivesAt <= story.Releases[0].At));
        using var inspector = await host.SignInAsync(Plant.Inspector);
        var path = "/units/" + story.Units[0];
        Assert.DoesNotContain("name=\"pin\"", (await inspector.PageAsync(path)).Html, StringComparison.Ordinal);

        using var answer = await inspector.PostFormAsync("/sign-out", path, ("hold", "Pour"), ("pin", host.Credentials.Person(Plant.Inspector.Id).Pin));

        Assert.Equal(HttpStatusCode.Conflict, answer.StatusCode);
        var text = PageVisitor.Text(await answer.Content.ReadAsStringAsync());
        Assert.Contains("Not released yet", text, StringComparison.Ordinal);
        Assert.Contains("has no mill test report", text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task As_known_at_a_position_it_leaves_out_what_came_later_and_offers_no_release()
    {
        var story = PlantStory.RigidFrame(54, 1, PlantStory.StartFor(1, Now));
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        await host.SendAsync(story.Facts);
        using var inspector = await host.SignInAsync(Plant.Inspector);
        var tied = await host.ScalarAsync("select position from trace.record where type = 'cage.tied.v1'");

        var (_, html) = await inspector.PageAsync($"/units/{story.Units[0]}?position={tied}");

        var text = PageVisitor.Text(html);
        Assert.Contains($"As known at log position {tied}", text, StringComparison.Ordinal);
        Assert.Contains("Cage tied", text, StringComparison.Ordinal);
        Assert.DoesNotContain("Unit shipped", text, StringComparison.Ordinal);
        Assert.DoesNotContain("name=\"pin\"", html, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.NotFound, (await inspector.PageAsync("/units/NOT-A-SERIAL")).Status);
        Assert.Equal(HttpStatusCode.NotFound, (await inspector.PageAsync($"/units/{story.Units[0]}?position=0")).Status);
    }

    private static string Squeezed(string text) => string.Join(' ', text.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
}
