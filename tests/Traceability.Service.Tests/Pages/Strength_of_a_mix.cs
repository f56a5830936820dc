using System.Net;
using System.Text.Json;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Pages;

/// <summary>The strength series of a mix, with its criteria, its control and its early warning, on a real database.</summary>
public sealed class Strength_of_a_mix
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task The_series_answers_as_page_and_as_json_and_warns_of_young_breaks()
    {
        const int Units = 20;
        var story = PlantStory.RigidFrame(7, Units, PlantStory.StartFor(Units, Now));
        var samples = story.Facts.Where(f => f.Event.Type == "sample.tested.v1").Select(f => f.Event.Data.GetProperty("sample").GetString()!).Distinct().ToList();
        // The youngest samples have not reached their 28 days.
        var young = samples[^3..];
        var known = story.Facts.Where(f => !(f.Event.Type == "cylinder.broken.v1" && young.Contains(f.Event.Data.GetProperty("sample").GetString()!) && f.Event.Data.GetProperty("cylinder").GetString()!.StartsWith("AC", StringComparison.Ordinal))).ToList();
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        await host.SendAsync(known);
        await PlantHost.EventuallyAsync(async () => await host.ScalarAsync("select count(distinct stream) from trace.record where type = 'cylinder.broken.v1'") >= samples.Count, "all breaks recorded");
        using var auditor = await host.SignInAsync(Plant.Auditor);
        var mix = known.First(f => f.Event.Type == "mix.approved.v1").Event.Data.GetProperty("mix").GetString()!;

        Assert.Contains($"/strength/{mix}", (await auditor.PageAsync("/strength")).Html, StringComparison.Ordinal);
        var json = JsonDocument.Parse(await auditor.GetStringAsync($"/v1/mixes/{mix}/strength")).RootElement.GetProperty("strength");
        Assert.Equal(samples.Count - young.Count, json.GetProperty("tests").GetArrayLength());
        var warned = json.GetProperty("young");
        Assert.Equal(young.Order(StringComparer.Ordinal), warned.EnumerateArray().Select(y => y.GetProperty("sample").GetProperty("sample").GetString()!).Order(StringComparer.Ordinal));
        var enough = samples.Count - young.Count >= Service.Strength.EarlyWarning.FewestPairs;
        Assert.True(enough, $"{samples.Count} samples");
        Assert.All(warned.EnumerateArray(), y => Assert.InRange(y.GetProperty("forecast").GetProperty("chance").GetDouble(), 0, 1));

        var page = PageVisitor.Text((await auditor.PageAsync($"/strength/{mix}")).Html);
        Assert.Contains("Tests against ACI 318-19, 26.12.3.1", page, StringComparison.Ordinal);
        Assert.Contains("no evidence, no ground for a release, and in no packet", page, StringComparison.Ordinal);
        Assert.Contains("Back-tested on the ship sets", page, StringComparison.Ordinal);
        Assert.All(young, s => Assert.Contains(s, page, StringComparison.Ordinal));

        Assert.Equal(HttpStatusCode.NotFound, (await auditor.PageAsync("/strength/MX-NONE")).Status);
        Assert.Equal(HttpStatusCode.NotFound, (await auditor.GetAsync("/v1/mixes/MX-NONE/strength")).StatusCode);
    }
}
