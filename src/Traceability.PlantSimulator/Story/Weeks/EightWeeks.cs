using Traceability.PlantSimulator.Story.Weeks.Lines;
using Traceability.PlantSimulator.Story.Weeks.Mishaps;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>The whole story: facts in their order of arrival, decisions by time, and what it must lead to.</summary>
public sealed record Tale(
    IReadOnlyList<StoryFact> Facts, IReadOnlyList<Asked> Asked, IReadOnlyList<string> Units, IReadOnlyList<Expectation> Expectations, DateTimeOffset Start, DateTimeOffset End);

/// <summary>
/// Eight weeks of an invented plant for two invented agencies, in which everything goes wrong once that goes wrong in real
/// life. Pure and seeded: the same arguments give the same bytes. Plant, agencies, contracts, people, producers and their
/// numbers are invented; the figures are usual ones of the trade. docs/demo.md tells it.
/// </summary>
public static class EightWeeks
{
    /// <summary>From Monday of the first week to Thursday of the eighth.</summary>
    private const int LastDay = 52;

    private static readonly TimeSpan StopsAt = TimeSpan.FromHours(10);

    /// <summary>The story that begins on a day, which must be a Monday of the plant.</summary>
    /// <param name="monday">Any moment of that day.</param>
    /// <param name="seed">Decides every reading.</param>
    public static Tale From(DateTimeOffset monday, int seed = 1)
    {
        var local = monday.ToOffset(PlantStory.PlantOffset);
        if (local.DayOfWeek != DayOfWeek.Monday) throw new ArgumentException($"the story begins on a Monday, {local:yyyy-MM-dd} is a {local.DayOfWeek}", nameof(monday));
        var scene = new Scene(seed, new DateTimeOffset(local.Date, PlantStory.PlantOffset));
        foreach (var chapter in Chapters(scene)) chapter.Tell();
        return scene.Told(scene.FirstDay.AddDays(LastDay) + StopsAt);
    }

    /// <summary>The story that stops at the last Thursday, 10:00 plant time, before a moment.</summary>
    public static Tale Before(DateTimeOffset now, int seed = 1)
    {
        var stop = new DateTimeOffset(now.ToOffset(PlantStory.PlantOffset).Date, PlantStory.PlantOffset) + StopsAt;
        while (stop.DayOfWeek != DayOfWeek.Thursday || stop > now) stop = stop.AddDays(-1);
        return From(stop.AddDays(-LastDay), seed);
    }

    // In any order: each chapter has its own units, lots, instruments and random numbers.
    private static IEnumerable<IChapter> Chapters(Scene scene) =>
    [
        new OpeningTheJob(scene), new Deliveries(scene), new Frames(scene), new Culverts(scene), new BarrierBeds(scene), new Manholes(scene),
        new ResultsPending(scene), new LapsedTechnician(scene), new WeekendCuring(scene), new LowAcceptance(scene), new FirstLoadOut(scene), new MixedRack(scene),
        LowStripSet.FixedSameDay(scene), new TicketTwice(scene), new CoverOut(scene), new MachineFoundHigh(scene), new LateMoisture(scene), new RainedOn(scene),
        new WrongDayWaiver(scene), new KioskOffline(scene), Mistyped.Of(scene), new SwappedCage(scene), new RevisionOnPourDay(scene), new OneCorrectionTooMany(scene),
        new CylindersOfRejected(scene), new RejectedLoad(scene), new DroppedAndRecast(scene), LowStripSet.Today(scene),
    ];
}

/// <summary>One product line or one mishap of the story.</summary>
internal interface IChapter
{
    void Tell();
}
