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

    [Fact]
    public void A_late_mill_certificate_holds_the_pour_until_it_comes()
    {
        var story = PlantStory.RigidFrame(7, 2, Start, Mishaps.LateMillCertificate);
        var unit = story.UnitOf(Mishaps.LateMillCertificate);
        var came = story.Facts.Single(f => f.Mishap == Mishaps.LateMillCertificate && f.Event.Type == "lot.certified.v1").ArrivesAt;
        Assert.Contains(Judged(story, unit, came.AddSeconds(-1)).Hold(HoldKind.Pour).OpenItems, o => o.Requirement == "tying.heats-certified");
        Assert.Equal(HoldState.Ready, Judged(story, unit, Release(story, unit, HoldKind.Pour)).Hold(HoldKind.Pour).State);
    }

    [Fact]
    public void A_low_strip_set_holds_the_strip_until_the_crew_has_waited_and_broken_again()
    {
        var story = PlantStory.RigidFrame(7, 2, Start, Mishaps.LowStripSet);
        var unit = story.UnitOf(Mishaps.LowStripSet);
        var low = story.Facts.Last(f => f.Mishap == Mishaps.LowStripSet && !f.Favourable).ArrivesAt;
        Assert.Contains(Judged(story, unit, low.AddHours(3)).Hold(HoldKind.Strip).OpenItems, o => o.Requirement == "strip.strength" && o.Verdict == Verdict.NotMet);
        Assert.Equal(HoldState.Ready, Judged(story, unit, Release(story, unit, HoldKind.Strip)).Hold(HoldKind.Strip).State);
    }

    [Fact]
    public void A_foreign_heat_holds_the_pour_for_good()
    {
        var story = PlantStory.RigidFrame(7, 2, Start, Mishaps.ForeignHeat);
        Assert.Contains(Judged(story, story.UnitOf(Mishaps.ForeignHeat), story.End).Hold(HoldKind.Pour).OpenItems, o => o.Requirement == "tying.domestic");
    }

    [Fact]
    public void A_lapsed_technician_holds_the_shipment_for_good()
    {
        var story = PlantStory.RigidFrame(7, 2, Start, Mishaps.LapsedTechnician);
        Assert.Contains(Judged(story, story.UnitOf(Mishaps.LapsedTechnician), story.End).Hold(HoldKind.Ship).OpenItems, o => o.Requirement == "place.tester");
    }

    [Fact]
    public void A_machine_found_out_contradicts_what_its_breaks_allowed()
    {
        var story = PlantStory.RigidFrame(7, 2, Start, Mishaps.MachineFoundOut);
        var unit = story.UnitOf(Mishaps.MachineFoundOut);
        Assert.Equal(HoldState.Ready, Judged(story, unit, Release(story, unit, HoldKind.Ship)).Hold(HoldKind.Ship).State);
        Assert.Contains(Judged(story, unit, story.End).Hold(HoldKind.Strip).OpenItems, o => o.Requirement == "strip.strength");
    }

    private static DateTimeOffset Release(Scenario story, string unit, HoldKind hold) => story.Releases.Single(r => r.Unit == unit && r.Hold == hold).At;

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
        return Judge.Dossier(new Dossier(Subject.Unit(unit), records.Count, records, PlantStory.Time), at);
    }
}
