using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>The unit as it came out of the form: dimensions as numbers, surface as seen.</summary>
[Fact("as-cast.inspected", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Summary = "A unit was inspected as cast.")]
public sealed record AsCastInspected(
    [Identity("unit")] string Unit,
    [Entries(0, 200)] IReadOnlyList<MeasuredDimension> Dimensions,
    [Description("Surface as the drawing asks.")] bool SurfaceAsDrawn,
    [Identity("instrument"), Entries(0, 40)] IReadOnlyList<string> Instruments,
    [Longest(1000)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i)));
}

public sealed record CrackSeen(
    [Description("Where on the unit.")] string Place,
    [NotNegative] Reading WidthIn,
    [NotNegative] Reading? LengthIn = null,
    [Description("At a bearing or a joint.")] bool AtBearing = false);

public enum DefectKind { Spall, Honeycomb, Void, ExposedSteel, Blemish }

public sealed record DefectSeen(
    [Description("Where on the unit.")] string Place,
    DefectKind Kind,
    [Description("Greatest depth."), NotNegative] Reading? DepthIn = null,
    [Description("Area, square inches."), NotNegative] Reading? AreaIn2 = null);

/// <summary>Cracks and defects of a unit with their sizes; empty lists say that it was looked at and none was seen.</summary>
[Fact("cracks.mapped", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Summary = "Cracks and defects of a unit were mapped.")]
public sealed record CracksMapped(
    [Identity("unit")] string Unit,
    [Entries(0, 200)] IReadOnlyList<CrackSeen> Cracks,
    [Entries(0, 200)] IReadOnlyList<DefectSeen> Defects,
    [Longest(1000)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

/// <summary>Two units were put together to see that they fit.</summary>
[Fact("unit.fitted", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Summary = "A unit was fitted to its mate.")]
public sealed record UnitFitted(
    [Identity("unit")] string Unit,
    [Identity("unit")] string Mate,
    [Description("Widest gap at the joint."), NotNegative] Reading GapIn,
    bool Fits) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.About(Subject.Unit(Mate))];
}

[Fact("unit.repaired", 1, Kind = FactKind.Reading, Role = Roles.Yard, Summary = "A repair of a unit was done.")]
public sealed record UnitRepaired(
    [Identity("unit")] string Unit,
    [Longest(200)] string Procedure,
    DateTimeOffset BeganAt,
    DateTimeOffset FinishedAt,
    [Description("The nonconformance it answers; left out for a pre-approved cosmetic repair."), Identity("nonconformance")] string? Nonconformance = null,
    [Description("Lots of repair material."), Entries(0, 20)] IReadOnlyList<LotId>? Lots = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => (Lots ?? []).Select(l => Link.MadeFrom(About, l.Subject));

    public IEnumerable<ShapeProblem> Check() =>
        FinishedAt < BeganAt ? [new("data.finishedAt", "must not be before beganAt", "Check both times and their offsets.")] : [];
}

[Fact("unit.marked", 1, Kind = FactKind.Reading, Role = Roles.Yard, Summary = "A unit was marked.")]
public sealed record UnitMarked(
    [Identity("unit")] string Unit,
    [Description("The marking as painted or cast in."), Longest(200)] string Marking,
    [Description("Seen after installation as the agency asks.")] bool OnVisibleFace) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

[Fact("unit.stored", 1, Kind = FactKind.Reading, Role = Roles.Yard, Summary = "A unit was set down in the yard.")]
public sealed record UnitStored([Identity("unit")] string Unit, [Longest(100)] string Place, [Description("Dunnage as the drawing shows it.")] bool BlockedAsDrawn) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

[Fact("unit.moved", 1, Kind = FactKind.Reading, Role = Roles.Yard, Summary = "A unit was moved to another place.")]
public sealed record UnitMoved([Identity("unit")] string Unit, [Longest(100)] string Place, [Longest(100)] string? Gear = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

[Fact("unit.damaged", 1, Kind = FactKind.Reading, Role = Roles.Yard, Also = Roles.Shipping, Summary = "A unit was damaged.")]
public sealed record UnitDamaged([Identity("unit")] string Unit, [Longest(1000)] string Damage) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A unit came back to the plant after it was shipped. Its ship hold begins anew.</summary>
[Fact("unit.returned", 1, Kind = FactKind.Reading, Role = Roles.Yard, Also = Roles.Shipping, Summary = "A shipped unit came back to the plant.")]
public sealed record UnitReturned([Identity("unit")] string Unit, [Longest(500)] string Reason, [Longest(100)] string Place) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A unit will not be delivered. What is rejected stays in the records.</summary>
[Fact("unit.rejected", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A unit was rejected by the plant.")]
public sealed record UnitRejected([Identity("unit")] string Unit, [Longest(500)] string Reason) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

[Fact("unit.disposed", 1, Kind = FactKind.Reading, Role = Roles.Yard, Summary = "A rejected unit was broken up or otherwise disposed of.")]
public sealed record UnitDisposed(
    [Identity("unit")] string Unit,
    [Description("How and to where."), Longest(300)] string How,
    [Identity("person")] string Witness) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

/// <summary>The last look before a unit leaves.</summary>
[Fact("load-out.inspected", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Also = Roles.Shipping, Summary = "A unit was inspected on the truck.")]
public sealed record LoadOutInspected(
    [Identity("unit")] string Unit,
    [Longest(60)] string Truck,
    [Description("Blocked and tied as the load plan shows.")] bool Secured,
    [Description("Free of new damage.")] bool Sound,
    [Description("Marking legible.")] bool Marked,
    [Longest(500)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}
