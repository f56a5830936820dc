using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>What a decision rested on: the log position it saw, the judgement by its hash, the rules that judged.</summary>
public sealed record DecisionBasis(long Position, string JudgementHash, string Rules);

/// <summary>A hold was released by a signed-on person. Only the service writes it, after judging at that moment.</summary>
[Fact("pour.released", 1, Role = Roles.PlantInspector, Summary = "The pour hold of a unit was released.")]
public sealed record PourReleased(string Unit, DecisionBasis Basis, string? Note = null) : IRelease
{
    public HoldKind Hold => HoldKind.Pour;
}

[Fact("strip.released", 1, Role = Roles.PlantInspector, Summary = "The strip hold of a unit was released.")]
public sealed record StripReleased(string Unit, DecisionBasis Basis, string? Note = null) : IRelease
{
    public HoldKind Hold => HoldKind.Strip;
}

[Fact("ship.released", 1, Role = Roles.PlantInspector, Summary = "The ship hold of a unit was released.")]
public sealed record ShipReleased(string Unit, DecisionBasis Basis, string? Note = null) : IRelease
{
    public HoldKind Hold => HoldKind.Ship;
}

/// <summary>A release of one hold of one unit.</summary>
public interface IRelease : IFact
{
    string Unit { get; }
    DecisionBasis Basis { get; }
    HoldKind Hold { get; }

    Subject IFact.About => Subject.Unit(Unit);

    IEnumerable<Link> IFact.Links() => [];

    IEnumerable<ShapeProblem> IFact.Check() => Shape.Id("data.unit", Unit, "unit");
}
