using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>A stock unit was given to a contract; it is judged anew by that contract's profile.</summary>
[Fact("unit.allocated", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A stock unit was allocated to a contract.")]
public sealed record UnitAllocated(
    [Identity("unit")] string Unit,
    [Identity("contract")] string Contract,
    [Description("Mark under that contract."), Longest(40)] string Mark,
    [Longest(500)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.GovernedBy(About, Subject.Contract(Contract))];
}

/// <summary>A unit was given another mark, perhaps under another contract. The serial stays.</summary>
[Fact("unit.re-marked", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A unit was given another mark or contract.")]
public sealed record UnitRemarked(
    [Identity("unit")] string Unit,
    [Identity("contract")] string Contract,
    [Longest(40)] string Mark,
    [Longest(500)] string Reason) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.GovernedBy(About, Subject.Contract(Contract))];
}

/// <summary>A unit takes the place of a rejected one: a new casting of the same mark under a serial of its own.</summary>
[Fact("unit.recast", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A unit was named as the casting in place of a rejected one.")]
public sealed record UnitRecast(
    [Identity("unit")] string Unit,
    [Description("The rejected unit."), Identity("unit")] string InPlaceOf,
    [Longest(500)] string Reason) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.About(Subject.Unit(InPlaceOf))];

    public IEnumerable<ShapeProblem> Check() =>
        Unit == InPlaceOf ? [new("data.inPlaceOf", "must be another unit", "The new casting has a serial of its own.")] : [];
}
