using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Checking;
using Traceability.PlantSimulator.Story;
using Xunit.Abstractions;

namespace Traceability.Faults.Tests;

public sealed class OutageTests(ITestOutputHelper output)
{
    private static readonly TimeSpan Outage = TimeSpan.FromMinutes(2);

    [Fact]
    public async Task Two_minutes_without_broker_and_two_without_database_lose_nothing()
    {
        await using var plant = await Installation.StartAsync();
        using var client = plant.Client();
        using var journal = plant.NewJournal("outages");
        var actor = new Actor(client, journal);

        // Without the broker intake says no, the stations keep their facts and send them again.
        await plant.KillAsync("rabbitmq");
        var withoutBroker = actor.PostAsync(Facts("a-"), 1, TimeSpan.FromMilliseconds(50), CancellationToken.None);
        await Task.Delay(Outage);
        Assert.False(withoutBroker.IsCompleted, "facts were taken in while no broker was there to keep them");
        Assert.True(client.Resends > 10, $"the stations sent again only {client.Resends} times");
        await plant.HealAsync("rabbitmq");
        await withoutBroker;
        var before = await GoodAsync(plant);

        // Without the database intake takes facts into the broker.
        await plant.KillAsync("postgres");
        var taken = await actor.PostAsync(Facts("b-"), 2, TimeSpan.FromMilliseconds(50), CancellationToken.None).WaitAsync(Outage);
        Assert.All(taken, a => Assert.True(a.Receipt.Status == "received" || a.Receipt.IsRefused, a.Receipt.Status));
        await Task.Delay(Outage);
        await plant.HealAsync("postgres");
        var after = await GoodAsync(plant);
        Assert.Equal(taken.Count(a => !a.Receipt.IsRefused), after.Records + after.Waiting - before.Records - before.Waiting);
    }

    private static IReadOnlyList<StoryFact> Facts(string key) =>
        PlantStory.RigidFrame(3, 4, new DateTimeOffset(2026, 3, 2, 0, 0, 0, PlantStory.PlantOffset), Mishaps.All, key).Facts;

    private async Task<CheckResult> GoodAsync(Installation plant)
    {
        var result = await plant.DrainAndCheckAsync();
        output.WriteLine(result.ToString());
        Assert.True(result.IsGood, $"{result}\n{string.Join("\n", result.Lost.Concat(result.Unexpected).Take(20))}\n{plant.Logs()}");
        return result;
    }
}
