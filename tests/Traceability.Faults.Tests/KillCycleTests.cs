using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;
using Xunit.Abstractions;

namespace Traceability.Faults.Tests;

public sealed class KillCycleTests(ITestOutputHelper output)
{
    private const int Cycles = 10;
    private static readonly string[] Victims = ["web", "worker", "rabbitmq", "postgres"];

    [Fact]
    public async Task Ten_seeded_cycles_of_kills_while_stations_send_lose_nothing_add_nothing_and_double_nothing()
    {
        await using var plant = await Installation.StartAsync();
        for (var seed = 1; seed <= Cycles; seed++)
        {
            using var client = plant.Client();
            using var journal = plant.NewJournal($"cycle-{seed}");
            var story = PlantStory.RigidFrame(seed, 6, new DateTimeOffset(2026, 3, 2, 0, 0, 0, PlantStory.PlantOffset), Mishaps.All, key: $"f{seed}-");
            var sending = new Actor(client, journal).PostAsync(story.Facts, seed, TimeSpan.FromMilliseconds(120), CancellationToken.None);
            await KillAsync(plant, seed);
            await sending;
            var result = await plant.DrainAndCheckAsync();
            output.WriteLine($"cycle {seed}: {result}; {client.Resends} sent again");
            Assert.True(result.IsGood, $"cycle {seed}: {result}; {RunSeed.HowToRepeat}\n{string.Join("\n", result.Lost.Concat(result.Unexpected).Concat(result.Duplicated).Concat(result.Differing).Take(20))}\n{plant.Logs()}");
        }

        output.WriteLine(string.Join(", ", plant.Kills.Select(k => $"{k.Key} killed {k.Value} times")));
        Assert.Equal(Victims.Order(), plant.Kills.Keys.Order());
    }

    // Two or three kills at random moments, now and then of two things at once, each healed a little later.
    private static async Task KillAsync(Installation plant, int seed)
    {
        var random = RunSeed.Random($"kill cycle {seed}");
        // Turn about for the first, so that ten cycles hit everything whatever the seeds.
        var first = Victims[seed % Victims.Length];
        foreach (var round in Enumerable.Range(0, random.Next(2, 4)))
        {
            await Task.Delay(random.Next(100, 900));
            var down = (round == 0 ? [first] : Victims.OrderBy(_ => random.Next()).Take(random.Next(1, 3))).ToList();
            foreach (var victim in down) await plant.KillAsync(victim);
            await Task.Delay(random.Next(50, 700));
            foreach (var victim in down) await plant.HealAsync(victim);
        }
    }
}
