using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Rules;

/// <summary>A unit's judgement does not depend on the order, the number or the way of arrival.</summary>
public sealed class Arrival_order
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    [Theory]
    [InlineData(false, 11)]
    [InlineData(true, 12)]
    public async Task Shuffled_repeated_and_delayed_facts_give_the_same_judgements(bool rabbit, int seed)
    {
        var story = PlantStory.RigidFrame(seed, 4, PlantStory.StartFor(4, Now), Mishaps.All);
        await using var straight = await PlantHost.StartAsync();
        await straight.SendAsync(story.Facts);

        await using var crooked = await PlantHost.StartAsync(rabbit, rabbit ? ["web", "worker,signer"] : ["web,worker,signer"]);
        var random = RunSeed.Random($"arrival order {seed}");
        // A second content under an id already handed over is refused at intake; so the crooked way sends through two intakes.
        var facts = story.Facts.Concat(story.Facts.Where(_ => random.Next(3) == 0)).OrderBy(_ => random.Next()).ToList();
        await crooked.SendAsync(facts.Take(facts.Count / 2));
        await crooked.AddAsync("web");
        await crooked.SendAsync(facts.Skip(facts.Count / 2));

        var records = await straight.ScalarAsync("select count(*) from trace.record where conflict_of is null");
        await crooked.SettleAsync(records);
        Assert.True(await crooked.ScalarAsync("select count(*) from trace.record where conflict_of is not null") <= 1);
        foreach (var unit in story.Units.Where(u => u != story.UnitOf(Mishaps.OtherContentUnderOneId)))
        {
            var expected = await straight.JudgeAsync(unit, Now);
            var seen = await crooked.JudgeAsync(unit, Now);
            Assert.True(Text(expected) == Text(seen), $"{unit}; {RunSeed.HowToRepeat}\nin order: {Text(expected)}\nshuffled: {Text(seen)}");
            Assert.Equal(expected.Hash, seen.Hash);
        }
    }

    [Fact]
    public async Task Two_contents_under_one_id_give_the_same_judgement_whichever_came_first()
    {
        var story = PlantStory.RigidFrame(21, 1, PlantStory.StartFor(1, Now), Mishaps.OtherContentUnderOneId);
        var pair = story.Facts.GroupBy(f => (f.Event.Source, f.Event.Id)).Single(g => g.Select(f => f.Event.ContentHash).Distinct().Count() > 1).ToList();
        var hashes = new List<string>();
        foreach (var first in pair)
        {
            await using var host = await PlantHost.StartAsync();
            await host.SendAsync(story.Facts.Where(f => !pair.Contains(f)).Append(first));
            // The other content comes through an intake that has not seen the first, as after a restart.
            await host.AddAsync("web");
            await host.SendAsync(pair.Where(f => f != first));
            Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.record where conflict_of is not null"));
            var judgement = await host.JudgeAsync(story.Units[0], Now);
            Assert.Contains(judgement.Findings.SelectMany(f => f.SetAside), s => s.Record == first.Event.RecordId);
            hashes.Add(judgement.Hash);
        }

        Assert.Single(hashes.Distinct());
    }

    private static string Text(Judgement judgement) => System.Text.Encoding.UTF8.GetString(judgement.Bytes);
}
