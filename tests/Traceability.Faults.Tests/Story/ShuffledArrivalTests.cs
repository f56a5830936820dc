using System.Text;
using System.Text.Json;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;
using Traceability.PlantSimulator.Story.Weeks;
using FactAttribute = Xunit.FactAttribute;

namespace Traceability.Faults.Tests.Story;

/// <summary>The story of eight weeks over a real RabbitMQ, out of order and partly twice.</summary>
public sealed class ShuffledArrivalTests
{
    private const int Seed = 29;

    [Fact]
    public async Task In_any_order_of_arrival_the_story_comes_to_the_same_judgements_at_several_moments_and_at_its_end()
    {
        var tale = EightWeeks.Before(TimeProvider.System.GetUtcNow(), Seed);
        await using var plant = await Installation.StartAsync();
        using var client = plant.Client();
        using var journal = plant.NewJournal("story");
        using var reader = new Session(plant.Web, plant.Credentials.Person(Plant.QualityEngineer.Id));
        using var deputy = new Session(plant.Web, plant.Credentials.Person(Plant.DeputyEngineer.Id));
        var actor = new Actor(client, journal);
        var random = RunSeed.Random(nameof(ShuffledArrivalTests));
        var sent = new List<StoryFact>();
        foreach (var moment in new[] { 11, 24, 38, 53 }.Select(d => tale.Start.AddDays(d)))
        {
            var due = tale.Facts.Where(f => f.ArrivesAt <= moment).Skip(sent.Count).ToList();
            // Everything in any order, and a part of it again.
            await actor.PostAsync([.. due.OrderBy(_ => random.Next())], random.Next(), TimeSpan.Zero, CancellationToken.None);
            await actor.PostAsync([.. due.Where(_ => random.Next(10) == 0).OrderBy(_ => random.Next())], random.Next(), TimeSpan.Zero, CancellationToken.None);
            sent.AddRange(due);
            // What opens something by saying it anew counts once the second person approved it.
            var result = await plant.DrainAndCheckAsync();
            while (await SecondPerson.ApproveAsync(deputy, CancellationToken.None) > 0) result = await plant.DrainAndCheckAsync();
            Assert.True(result.IsGood, $"{result}; {RunSeed.HowToRepeat}");

            var inOrder = PureService.Of(sent);
            var differing = new List<string>();
            foreach (var unit in tale.Units.Where(inOrder.Knows))
            {
                var seen = await reader.JsonAsync(HttpMethod.Get, "v1/units/" + unit, null, CancellationToken.None);
                var expected = inOrder.Judged(unit, seen.GetProperty("judgedAt").GetDateTimeOffset());
                if (seen.GetProperty("judgement").GetString() != expected.Hash) differing.AddRange(Differences(unit, seen, expected));
            }

            Assert.True(differing.Count == 0, $"{RunSeed.HowToRepeat}\n{string.Join("\n", differing)}");
        }

        Assert.Equal(tale.Facts.Count, sent.Count);
    }

    private static IEnumerable<string> Differences(string unit, JsonElement seen, Judgement expected)
    {
        static HashSet<string> Lines(JsonElement judgement) => [.. new[] { "findings", "holds" }.SelectMany(p => judgement.GetProperty(p).EnumerateArray()).Select(f => Encoding.UTF8.GetString(CanonicalJson.Canonicalize(Encoding.UTF8.GetBytes(f.GetRawText()))))];
        using var own = JsonDocument.Parse(expected.Bytes);
        var (there, here) = (Lines(seen), Lines(own.RootElement));
        return there.Except(here).Select(l => $"{unit} there: {l}").Concat(here.Except(there).Select(l => $"{unit} here: {l}")).Prepend(unit);
    }
}
