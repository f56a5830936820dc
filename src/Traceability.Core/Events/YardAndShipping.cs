using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

[Fact("unit.stripped", 1, Kind = FactKind.Reading, Role = Roles.Yard, Summary = "A unit was lifted out of its form.")]
public sealed record UnitStripped(
    [Identity("unit")] string Unit,
    [Description("Lifting gear used."), Longest(100)] string Gear,
    [Description("Sling legs that really carried the piece."), Between(1, 16)] int LegsThatCarried,
    [Description("Angle of the sling from the horizontal."), Positive, Between(0, 90)] Reading SlingAngleDeg,
    [Description("Place in the yard."), Longest(100)] string? StoredAt = null,
    [Description("Distance of the lifter that is nearest an edge from that edge, as it is."), Positive] Reading? LifterEdgeIn = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

[Fact("unit.shipped", 1, Kind = FactKind.Reading, Role = Roles.Shipping, Summary = "A unit left the yard on a truck.")]
public sealed record UnitShipped(
    [Identity("unit")] string Unit,
    [Longest(60)] string Delivery,
    [Longest(60)] string Truck,
    [Longest(100)] string Destination) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}
