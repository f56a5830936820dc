using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

[Fact("pour.started", 1, Kind = FactKind.Reading, Role = Roles.PourCrew, Summary = "Placing of concrete began.")]
public sealed record PourStarted(
    [Identity("pour")] string Pour,
    [Identity("unit"), Entries(1, 100)] IReadOnlyList<string> Units) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => Units.Select(u => Link.MadeFrom(Subject.Unit(u), About));
}

/// <summary>Placing stopped for a while. Whether a cold joint is to be feared is judged by the interruption allowed.</summary>
[Fact("pour.interrupted", 1, Kind = FactKind.Reading, Role = Roles.PourCrew, Summary = "Placing of concrete was interrupted.")]
public sealed record PourInterrupted(
    [Identity("pour")] string Pour,
    DateTimeOffset From,
    DateTimeOffset Until,
    [Longest(500)] string Reason,
    [Description("Units it happened to; left out for all of the pour."), Identity("unit"), Entries(0, 100)] IReadOnlyList<string>? Units = null) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        Until < From ? [new("data.until", "must not be before from", "Check both times and their offsets.")] : [];
}

public enum Displaced { Cage, Form, Insert, Blockout }

/// <summary>Something moved in the form while concrete was placed, or was found moved before.</summary>
[Fact("displacement.seen", 1, Kind = FactKind.Reading, Role = Roles.PourCrew, Also = Roles.PlantInspector, Summary = "A cage, form, insert or blockout was seen to have moved.")]
public sealed record DisplacementSeen(
    [Identity("unit")] string Unit,
    Displaced What,
    [Description("Put back before the concrete set.")] bool PutBack,
    [Longest(500)] string Remarks,
    [Description("How far it moved as measured."), NotNegative] Reading? MovedIn = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

[Fact("pour.finished", 1, Kind = FactKind.Reading, Role = Roles.PourCrew, Summary = "Placing of concrete ended.")]
public sealed record PourFinished([Identity("pour")] string Pour, [Longest(500)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => [];
}

/// <summary>The unit was looked at while fresh: top, finish, inserts still in place.</summary>
[Fact("pour.checked", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Summary = "A freshly poured unit was checked.")]
public sealed record PourChecked(
    [Identity("pour")] string Pour,
    [Identity("unit")] string Unit,
    bool InsertsInPlace,
    bool FinishAsDrawn,
    [Longest(1000)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

/// <summary>Weather as read where units stand open or are poured.</summary>
[Fact("weather.read", 1, Kind = FactKind.Reading, Role = Roles.PourCrew, Also = Roles.PlantInspector, Summary = "Weather was read at units standing open or being poured.")]
public sealed record WeatherRead(
    [Identity("unit"), Entries(1, 100)] IReadOnlyList<string> Units,
    Reading AirF,
    [Description("Rain fell into the open forms.")] bool RainedIn,
    [Description("Relative humidity."), NotNegative] Reading? HumidityPct = null,
    [Description("Wind at half a metre above the surface, miles per hour."), NotNegative] Reading? WindMph = null) : IFact
{
    public Subject About => Subject.Unit(Units[0]);

    public IEnumerable<Link> Links() => Units.Skip(1).Select(u => Link.About(Subject.Unit(u)));
}

public enum CuringMethod { Ambient, Steam, Heated, Wet, Membrane }

[Fact("cure.begun", 1, Kind = FactKind.Reading, Role = Roles.PourCrew, Also = Roles.Laboratory, Summary = "Curing of a pour began.")]
public sealed record CureBegun([Identity("pour")] string Pour, CuringMethod Method, [Longest(500)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => [];
}

[Fact("heat.turned", 1, Kind = FactKind.Reading, Role = Roles.PourCrew, Also = Roles.Laboratory, Summary = "Heat of a curing pour was turned on or off.")]
public sealed record HeatTurned([Identity("pour")] string Pour, bool On, [Description("Set temperature.")] Reading? SetF = null) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => [];
}

[Fact("cure.ended", 1, Kind = FactKind.Reading, Role = Roles.PourCrew, Also = Roles.Laboratory, Summary = "Curing of a pour ended.")]
public sealed record CureEnded([Identity("pour")] string Pour, [Longest(500)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Pour(Pour);

    public IEnumerable<Link> Links() => [];
}
