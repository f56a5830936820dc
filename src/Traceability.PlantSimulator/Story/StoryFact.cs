using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.PlantSimulator.Story;

/// <summary>One fact of the story as a station sends it.</summary>
/// <param name="Event">The CloudEvent in its canonical bytes.</param>
/// <param name="Device">Id of the device (station) that sends it.</param>
/// <param name="ArrivesAt">When the station sends it; never before it happened.</param>
/// <param name="Favourable">
/// Whether the unit stands better with this fact than without it. False for bad news and for what makes other facts
/// doubtful (a second content under one id, an instrument found out).
/// </param>
/// <param name="Mishap">The mishap it belongs to, or <see cref="Mishaps.None"/>.</param>
public sealed record StoryFact(CloudEvent Event, string Device, DateTimeOffset ArrivesAt, bool Favourable, Mishaps Mishap = Mishaps.None);

/// <summary>A release that a person of the plant decides at a moment of the story. The service writes the record of it.</summary>
public sealed record StoryRelease(string Unit, HoldKind Hold, DateTimeOffset At, string Person);

/// <summary>One unit to be cast: on which working day after the first, and what goes wrong with it.</summary>
public sealed record Casting(int PourDay, Mishaps Mishaps = Mishaps.None);

/// <summary>Facts in their order of arrival, and the decisions between them.</summary>
/// <param name="Castings">What was asked for, unit by unit.</param>
public sealed record Scenario(
    IReadOnlyList<StoryFact> Facts, IReadOnlyList<StoryRelease> Releases, IReadOnlyList<string> Units,
    IReadOnlyList<Casting> Castings, DateTimeOffset Start, DateTimeOffset End)
{
    /// <summary>The first unit a mishap happens to.</summary>
    public string UnitOf(Mishaps mishap) => Units[Castings.ToList().FindIndex(c => c.Mishaps.HasFlag(mishap))];
}

/// <summary>What goes wrong in the story. Each happens to one unit; unit 0 is never hit while there are enough units.</summary>
[Flags]
public enum Mishaps
{
    None = 0,

    /// <summary>A heat's mill certificate comes after its bars are tied, before the pour.</summary>
    LateMillCertificate = 1,

    /// <summary>A cover reading is mistyped out of tolerance; the quality engineer corrects it before the pour.</summary>
    CoverMistyped = 2,

    /// <summary>A batch ticket arrives by HTTP and again by file, under two ids.</summary>
    TicketTwice = 4,

    /// <summary>A probe is read out twice under one id with other content; then once more, right, under an id of its own.</summary>
    OtherContentUnderOneId = 8,

    /// <summary>The first strip set breaks low; the crew waits and breaks again.</summary>
    LowStripSet = 16,

    /// <summary>The technician who tested the fresh concrete had a lapsed certificate. Nothing fixes it.</summary>
    LapsedTechnician = 32,

    /// <summary>The testing machine of this unit's cylinders is found out after the unit was stripped and shipped.</summary>
    MachineFoundOut = 64,

    /// <summary>The cage and a batch ticket arrive long after the facts that rest on them.</summary>
    OutOfOrderArrival = 128,

    /// <summary>A heat in the cage was melted abroad, and the contract asks for domestic steel. The unit is not poured.</summary>
    ForeignHeat = 256,

    All = 511,
}
