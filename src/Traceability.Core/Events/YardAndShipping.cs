using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <param name="LegsThatCarried">Sling legs that really carried the piece.</param>
[Fact("unit.stripped", 1, Role = Roles.Yard, Summary = "A unit was lifted out of its form.")]
public sealed record UnitStripped(string Unit, string Gear, int LegsThatCarried, Reading SlingAngleDeg, string? StoredAt = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check()
    {
        foreach (var p in Shape.Id("data.unit", Unit, "unit").Concat(Shape.Text("data.gear", Gear, 100))) yield return p;
        if (LegsThatCarried is < 1 or > 16) yield return new("data.legsThatCarried", "must be 1 to 16", "Count the legs under load.");
        if (SlingAngleDeg.Value is <= 0 or > 90) yield return new("data.slingAngleDeg", "must be above 0 and at most 90 degrees from the horizontal", "Measure from the horizontal.");
    }
}

[Fact("unit.shipped", 1, Role = Roles.Shipping, Summary = "A unit left the yard on a truck.")]
public sealed record UnitShipped(string Unit, string Delivery, string Truck, string Destination) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => Shape.Id("data.unit", Unit, "unit").Concat(Shape.Text("data.delivery", Delivery, 60))
        .Concat(Shape.Text("data.truck", Truck, 60)).Concat(Shape.Text("data.destination", Destination, 100));
}
