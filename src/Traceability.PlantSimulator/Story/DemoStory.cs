namespace Traceability.PlantSimulator.Story;

/// <summary>The demonstration: seven and a half weeks of the invented plant, up to ten in the morning of a Thursday.</summary>
public static class DemoStory
{
    private const int Today = 38;

    /// <summary>Oldest first. The last two are to be poured on the day the story stops.</summary>
    public static IReadOnlyList<Casting> Castings { get; } =
    [
        new(3),
        new(3, Mishaps.LateMillCertificate),
        new(8, Mishaps.CoverMistyped),
        new(8, Mishaps.TicketTwice),
        new(13, Mishaps.OtherContentUnderOneId),
        new(13, Mishaps.OutOfOrderArrival),
        new(18, Mishaps.MachineFoundOut),
        new(23, Mishaps.LapsedTechnician),
        new(28, Mishaps.ForeignHeat),
        new(33),
        new(Today - 1, Mishaps.LowStripSet),
        new(Today),
        new(Today),
    ];

    /// <summary>The story that stops at the last Thursday, 10:00 plant time, before a moment.</summary>
    public static Scenario Before(DateTimeOffset now, int seed = 1)
    {
        var local = now.ToOffset(PlantStory.PlantOffset);
        var stop = new DateTimeOffset(local.Date, PlantStory.PlantOffset).AddHours(10);
        while (stop.DayOfWeek != DayOfWeek.Thursday || stop > now) stop = stop.AddDays(-1);
        // Working day 38 after a Monday is the Thursday of the eighth week.
        return PlantStory.RigidFrame(seed, Castings, stop.AddDays(-52), until: stop, confirmed: true);
    }
}
