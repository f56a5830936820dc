using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story;
using Traceability.PlantSimulator.Story.Weeks;
using FactAttribute = Xunit.FactAttribute;

namespace Traceability.Faults.Tests.Story;

/// <summary>The story of eight weeks, told to the core without servers.</summary>
public sealed class EightWeeksTests
{
    private static readonly Lazy<Tale> Tale = new(() => EightWeeks.From(new DateTimeOffset(2026, 3, 2, 0, 0, 0, PlantStory.PlantOffset)));

    private static readonly Lazy<PureService> Told = new(() => PureService.Tell(Tale.Value));

    [Fact]
    public void The_same_seed_gives_the_same_bytes_and_another_seed_other_ones()
    {
        string[] Hashes(int seed) => [.. EightWeeks.From(Tale.Value.Start, seed).Facts.Select(f => f.Event.ContentHash)];
        Assert.Equal(Tale.Value.Facts.Select(f => f.Event.ContentHash), Hashes(1));
        Assert.NotEqual(Hashes(1), Hashes(2));
    }

    [Fact]
    public void Every_fact_reads_as_one_of_its_type_comes_from_a_station_that_may_send_it_and_arrives_after_it_happened() =>
        Assert.All(Tale.Value.Facts, f =>
        {
            var type = FactCatalog.All[f.Event.Type];
            Assert.Empty(FactCatalog.Read(type, f.Event.Data).Check());
            Assert.True(f.ArrivesAt > f.Event.Time, f.Event.Id);
            var station = Assert.Single(Plant.Stations, s => s.Device == f.Device && s.Source == f.Event.Source);
            Assert.True(station.Roles.Intersect(type.Roles).Any(), $"{station.Device} cannot send {type.Type}");
            var person = Assert.Single(Plant.People, p => p.Id == f.Event.Person);
            Assert.True(person.Roles.Intersect(type.Roles.Append(Roles.QualityEngineer)).Any(), $"{person.Id} cannot record {type.Type}");
        });

    [Fact]
    public void The_story_uses_every_type_of_fact_that_a_station_can_send()
    {
        // Decisions are the service's own; a release's expiry is seen in the judgement; roles are granted by the administrator, who has no station.
        bool Sent(FactType type) => !type.Clr.IsAssignableTo(typeof(IDecision)) && type.Clr != typeof(ReleaseExpired) && type.Clr != typeof(RoleGranted);
        var told = Tale.Value.Facts.Select(f => f.Event.Type).Concat(Tale.Value.Asked.OfType<DecisionAsked>().Select(d => FactCatalog.Of(d.Fact).Type)).ToHashSet();
        Assert.Equal(FactCatalog.All.Values.Where(Sent).Select(t => t.Type).Order(), told.Where(t => Sent(FactCatalog.All[t])).Order());
    }

    [Fact]
    public void Every_decision_of_the_story_is_given_or_refused_as_told() => Hold(Told.Value.Surprises);

    [Fact]
    public void Every_expectation_of_every_chapter_holds() =>
        Hold(Tale.Value.Expectations.Select(e => Expected.Differs(Told.Value, Tale.Value, e)).OfType<string>());

    private static void Hold(IEnumerable<string> differences)
    {
        var said = string.Join("\n", differences);
        Assert.True(said.Length == 0, said);
    }
}
