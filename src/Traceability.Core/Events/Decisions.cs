using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>What a decision rested on.</summary>
public sealed record DecisionBasis(
    [Description("Log position that was judged."), NotNegative] long Position,
    [Description("SHA-256 of the judgement, lower-case hex."), Longest(64)] string JudgementHash,
    [Description("Version of the rules that judged."), Longest(40)] string Rules);

/// <summary>A hold was released by a signed-on person. Only the service writes it, after judging at that moment.</summary>
[Fact("pour.released", 1, Role = Roles.PlantInspector, Summary = "The pour hold of a unit was released.")]
public sealed record PourReleased([Identity("unit")] string Unit, DecisionBasis Basis, [Longest(500)] string? Note = null) : IRelease
{
    public HoldKind Hold => HoldKind.Pour;
}

/// <inheritdoc cref="PourReleased"/>
[Fact("strip.released", 1, Role = Roles.PlantInspector, Summary = "The strip hold of a unit was released.")]
public sealed record StripReleased([Identity("unit")] string Unit, DecisionBasis Basis, [Longest(500)] string? Note = null) : IRelease
{
    public HoldKind Hold => HoldKind.Strip;
}

/// <inheritdoc cref="PourReleased"/>
[Fact("ship.released", 1, Role = Roles.PlantInspector, Summary = "The ship hold of a unit was released.")]
public sealed record ShipReleased([Identity("unit")] string Unit, DecisionBasis Basis, [Longest(500)] string? Note = null) : IRelease
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
}
