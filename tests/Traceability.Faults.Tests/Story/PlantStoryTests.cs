using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using FactAttribute = Xunit.FactAttribute;
using Record = Traceability.Core.Records.Record;
using Traceability.PlantSimulator.Story;

namespace Traceability.Faults.Tests.Story;

public sealed class PlantStoryTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 0, 0, 0, PlantStory.PlantOffset);

    [Fact]
    public void The_same_seed_gives_the_same_bytes_and_another_seed_other_ones()
    {
        string[] Hashes(int seed) => [.. PlantStory.RigidFrame(seed, 3, Start, Mishaps.All).Facts.Select(f => f.Event.ContentHash)];
        Assert.Equal(Hashes(7), Hashes(7));
        Assert.NotEqual(Hashes(7), Hashes(8));
    }

    [Fact]
    public void Every_fact_of_the_story_reads_as_a_fact_of_its_type_and_arrives_after_it_happened()
    {
        var story = PlantStory.RigidFrame(7, 9, Start, Mishaps.All);
        Assert.All(story.Facts, f =>
        {
            Assert.Empty(FactCatalog.Read(FactCatalog.All[f.Event.Type], f.Event.Data).Check());
            Assert.True(f.ArrivesAt > f.Event.Time, f.Event.Id);
            Assert.Contains(Plant.Stations, s => s.Device == f.Device && s.Source == f.Event.Source);
        });
        Assert.Equal(story.Facts.OrderBy(f => f.ArrivesAt), story.Facts);
    }

    [Fact]
    public void The_story_uses_every_type_that_a_station_can_send_but_the_withdrawal()
    {
        var told = PlantStory.RigidFrame(7, 9, Start, Mishaps.All).Facts.Select(f => f.Event.Type).ToHashSet();
        var decisions = FactCatalog.All.Values.Where(t => t.Clr.IsAssignableTo(typeof(IRelease)) || t.Clr == typeof(RecordWithdrawn)).Select(t => t.Type);
        Assert.Equal(FactCatalog.All.Keys.Except(decisions).Order(), told.Order());
    }

    [Fact]
    public void Stories_with_different_keys_share_no_id_and_no_unit()
    {
        var a = PlantStory.RigidFrame(7, 2, Start, key: "a-");
        var b = PlantStory.RigidFrame(7, 2, Start, key: "b-");
        Assert.Empty(a.Facts.Select(f => f.Event.RecordId).Intersect(b.Facts.Select(f => f.Event.RecordId)));
        Assert.Empty(a.Units.Intersect(b.Units));
    }

    [Fact]
    public void A_story_ends_before_the_day_it_was_planned_to_end()
    {
        var end = new DateTimeOffset(2026, 11, 25, 15, 0, 0, TimeSpan.Zero);
        foreach (var units in Enumerable.Range(1, 20))
        {
            var story = PlantStory.RigidFrame(1, units, PlantStory.StartFor(units, end), Mishaps.All & ~Mishaps.ForeignHeat);
            Assert.InRange(end - story.End, TimeSpan.Zero, TimeSpan.FromDays(12));
        }
    }

    [Fact]
    public void Without_mishaps_every_finding_of_every_unit_allows_the_work()
    {
        var story = PlantStory.RigidFrame(7, 3, Start);
        foreach (var unit in story.Units)
        {
            var judgement = Judged(story, unit, story.End.AddDays(1));
            Assert.Equal([], judgement.Findings.Where(f => !f.Allows).Select(f => $"{f.Requirement} {f.Subject}: {f.Verdict} {f.Reason}"));
        }
    }

    [Theory]
    [InlineData(Mishaps.LateMillCertificate, HoldKind.Pour)]
    public void A_mishap_that_is_mended_holds_the_unit_until_it_is(Mishaps mishap, HoldKind hold)
    {
        var story = PlantStory.RigidFrame(7, 2, Start, mishap);
        var unit = story.UnitOf(mishap);
        var release = story.Releases.Single(r => r.Unit == unit && r.Hold == hold).At;
        var mended = story.Facts.Last(f => f.Mishap == mishap && f.Favourable && f.ArrivesAt < release).ArrivesAt;
        Assert.Equal(HoldState.Held, Judged(story, unit, mended.AddSeconds(-1)).Hold(hold).State);
        Assert.Equal(HoldState.Ready, Judged(story, unit, release).Hold(hold).State);
    }

    [Fact]
    public void A_mistyped_cover_reading_holds_the_pour_until_it_is_corrected()
    {
        var story = PlantStory.RigidFrame(7, 2, Start, Mishaps.CoverMistyped);
        var unit = story.UnitOf(Mishaps.CoverMistyped);
        var corrected = story.Facts.Single(f => f.Event.Type == "record.corrected.v1").ArrivesAt;
        Assert.Contains(Judged(story, unit, corrected.AddSeconds(-1)).Findings, f => f.Requirement == "close-up.cover" && f.Verdict == Verdict.NotMet);
        Assert.DoesNotContain(Judged(story, unit, corrected).Findings, f => f.Requirement == "close-up.cover" && f.Verdict == Verdict.NotMet);
    }

    /// <summary>The unit as judged on what had arrived by a moment.</summary>
    private static Judgement Judged(Scenario story, string unit, DateTimeOffset at)
    {
        var records = story.Facts.Where(f => f.ArrivesAt <= at)
            .Select((f, i) => Record.Read(Record.Write(f.Event, f.Event.RecordId, f.Device, "intake", f.ArrivesAt, f.ArrivesAt), i + 1)).ToList();
        return Judge.Dossier(new Dossier(Subject.Unit(unit), records.Count, records), at);
    }
}
