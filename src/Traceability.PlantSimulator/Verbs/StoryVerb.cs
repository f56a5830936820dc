using System.Text.Json;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;

namespace Traceability.PlantSimulator.Verbs;

/// <summary>Acts a story's facts over HTTP, without the decisions between them.</summary>
internal static class StoryVerb
{
    public static async Task<int> RunAsync(Options options, CancellationToken cancel)
    {
        var units = options.Number("--units", 9);
        var seed = options.Number("--seed", 1);
        var key = options.Optional("--key") ?? "";
        var mishaps = options.Optional("--mishaps") is { } text ? Enum.Parse<Mishaps>(text, ignoreCase: true) : Mishaps.None;
        var url = options.Url("--url");
        var credentials = Credentials.Load(options.Text("--credentials"));
        var file = options.Text("--journal");
        options.Done();

        var story = PlantStory.RigidFrame(seed, units, PlantStory.StartFor(units, TimeProvider.System.GetUtcNow()), mishaps, key);
        using var client = new ServiceClient(url, credentials);
        using var journal = new Journal(file);
        var acted = await new Actor(client, journal).ActAsync(story.Facts, cancel);
        Console.WriteLine(JsonSerializer.Serialize(new
        {
            units = story.Units.Count,
            sent = acted.Count,
            recorded = acted.Count(a => a.Receipt.IsRecorded),
            conflicts = acted.Count(a => a.Receipt.Status == "conflict"),
            apart = acted.Count(a => a.Receipt.Status is "quarantined" or "parked" or "refused"),
            resends = client.Resends,
        }));
        return acted.All(a => a.Receipt.IsRecorded || a.Fact.Mishap == Mishaps.OtherContentUnderOneId) ? 0 : 1;
    }
}
