using System.Net;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Pages;

/// <summary>Board, unit list, recall and record pages over a plant's weeks on a real database.</summary>
public sealed class The_board_and_recall
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Every_page_answers_from_what_was_recorded()
    {
        var story = PlantStory.RigidFrame(61, 9, PlantStory.StartFor(9, Now), Mishaps.All);
        await using var host = await PlantHost.StartAsync();
        await host.SendAsync(story.Facts);
        await host.SettleAsync(await host.ScalarAsync("select count(*) from trace.record"));
        using var auditor = await host.SignInAsync(Plant.Auditor);

        var board = PageVisitor.Text((await auditor.PageAsync("/")).Html);
        Assert.Contains($"As of log position {await host.ScalarAsync("select max(position) from trace.record")}", board, StringComparison.Ordinal);
        var inPlant = story.Units.Count - story.Facts.Count(f => f.Event.Type == "unit.shipped.v1");
        Assert.Contains($"{inPlant} unit{(inPlant == 1 ? "" : "s")} in the plant", board, StringComparison.Ordinal);
        Assert.Contains($"{Plant.LapsedTechnician.Id} ✕ lapsed certificate as field testing technician", board, StringComparison.Ordinal);

        var list = (await auditor.PageAsync("/units")).Html;
        Assert.All(story.Units, u => Assert.Contains($"/units/{u}", list, StringComparison.Ordinal));
        var search = (await auditor.PageAsync("/units?q=b613")).Html;
        Assert.Contains("/subjects/lot%3Amill-b/B61377", search, StringComparison.Ordinal);
        Assert.DoesNotContain($"/units/{story.Units[0]}", search, StringComparison.Ordinal);
        Assert.Contains($"/units/{story.Units[3]}", (await auditor.PageAsync($"/units?q={story.Units[3].ToLowerInvariant()}")).Html, StringComparison.Ordinal);

        // A late heat went into one unit; the other heats of the size into all the others.
        var late = story.UnitOf(Mishaps.LateMillCertificate);
        var recall = PageVisitor.Text((await auditor.PageAsync("/subjects/lot%3Amill-b/B61377")).Html);
        Assert.Contains("In these units, certainly: 1", recall, StringComparison.Ordinal);
        Assert.Contains("In these units, possibly: 0", recall, StringComparison.Ordinal);
        Assert.Contains(late, recall, StringComparison.Ordinal);
        Assert.Contains("shipped to", recall, StringComparison.Ordinal);
        var person = PageVisitor.Text((await auditor.PageAsync("/subjects/person%3A" + Plant.LapsedTechnician.Id)).Html);
        Assert.Contains("Units that rely on it: 1", person, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.NotFound, (await auditor.PageAsync("/subjects/lot%3Anobody/1")).Status);

        var first = story.Facts[0].Event;
        var record = (await auditor.PageAsync($"/records/{first.RecordId}")).Html;
        Assert.Contains(first.ContentHash, record, StringComparison.Ordinal);
        Assert.Contains("checked while this page was made", record, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.NotFound, (await auditor.PageAsync("/records/00000000-0000-0000-0000-000000000001")).Status);
        var typed = story.Facts.First(f => f.Mishap == Mishaps.CoverMistyped).Event;
        Assert.Contains("replaces version 1", PageVisitor.Text((await auditor.PageAsync($"/records/{typed.RecordId}")).Html), StringComparison.Ordinal);
    }
}
