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

    [Fact]
    public async Task While_the_broker_takes_nothing_readiness_says_so_and_intake_says_later_at_once()
    {
        await using var plant = await Installation.StartAsync();
        using var http = new HttpClient { BaseAddress = plant.Web };
        await plant.AlarmAsync(true);
        var ready = "";
        for (var i = 0; i < 100 && !ready.Contains("takes nothing", StringComparison.Ordinal); i++)
        {
            await Task.Delay(200);
            using var answer = await http.GetAsync("health/ready");
            ready = $"{(int)answer.StatusCode} {await answer.Content.ReadAsStringAsync()}";
        }

        Assert.StartsWith("503 ", ready, StringComparison.Ordinal);
        Assert.Contains("the message broker takes nothing: low on memory", ready, StringComparison.Ordinal);
        // Nothing on the way to it stands still: each fact is answered at once, for its station to keep.
        for (var i = 0; i < 5; i++)
        {
            var began = System.Diagnostics.Stopwatch.GetTimestamp();
            using var refused = await http.SendAsync(plant.OneFact());
            Assert.Equal(System.Net.HttpStatusCode.ServiceUnavailable, refused.StatusCode);
            Assert.Contains("takes nothing", await refused.Content.ReadAsStringAsync(), StringComparison.Ordinal);
            Assert.True(System.Diagnostics.Stopwatch.GetElapsedTime(began) < TimeSpan.FromSeconds(2));
        }

        await plant.AlarmAsync(false);
        await plant.ReadyAsync();
        using var taken = await http.SendAsync(plant.OneFact());
        Assert.Equal(System.Net.HttpStatusCode.Accepted, taken.StatusCode);
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
