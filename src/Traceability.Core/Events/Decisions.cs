using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>What a decision rested on.</summary>
public sealed record DecisionBasis(
    [Description("Log position that was judged."), NotNegative] long Position,
    [Description("SHA-256 of the judgement, lower-case hex."), Longest(64)] string JudgementHash,
    [Description("Version of the rules that judged."), Longest(40)] string Rules);

/// <summary>What a release covers. When one of these is no longer so, the release has expired.</summary>
public sealed record ReleaseScope(
    [Longest(20)] string? Revision = null,
    [Identity("cage")] string? Cage = null,
    [Identity("form")] string? Form = null,
    [Entries(0, 400)] IReadOnlyList<LotId>? Heats = null);

/// <summary>Written by the service alone, when a signed-on person decides with a PIN at that moment. Never corrected: undone and decided again.</summary>
public interface IDecision : IFact;

/// <summary>A release of one hold of one unit.</summary>
public interface IRelease : IDecision
{
    string Unit { get; }
    DecisionBasis Basis { get; }
    HoldKind Hold { get; }

    /// <summary>What it covers; null for a release that states none.</summary>
    ReleaseScope? Scope { get; }

    /// <summary>Until when it stands; null when time does not end it.</summary>
    DateTimeOffset? ValidUntil { get; }

    Subject IFact.About => Subject.Unit(Unit);

    IEnumerable<Link> IFact.Links() => [];
}

/// <summary>A hold was released by a signed-on person. Only the service writes it, after judging at that moment.</summary>
[Fact("tying.released", 1, Kind = FactKind.Act, Role = Roles.PlantInspector, Also = Roles.QualityEngineer, Summary = "The tying hold of a unit was released.")]
public sealed record TyingReleased(
    [Identity("unit")] string Unit, DecisionBasis Basis, [Longest(500)] string? Note = null, ReleaseScope? Scope = null, DateTimeOffset? ValidUntil = null) : IRelease
{
    public HoldKind Hold => HoldKind.Tying;
}

/// <inheritdoc cref="TyingReleased"/>
[Fact("close-up.released", 1, Kind = FactKind.Act, Role = Roles.PlantInspector, Also = Roles.QualityEngineer, Summary = "The close-up hold of a unit was released.")]
public sealed record CloseUpReleased(
    [Identity("unit")] string Unit, DecisionBasis Basis, [Longest(500)] string? Note = null, ReleaseScope? Scope = null, DateTimeOffset? ValidUntil = null) : IRelease
{
    public HoldKind Hold => HoldKind.CloseUp;
}

/// <inheritdoc cref="TyingReleased"/>
[Fact("pour.released", 1, Kind = FactKind.Act, Role = Roles.PlantInspector, Also = Roles.QualityEngineer, Summary = "The pour hold of a unit was released.")]
public sealed record PourReleased(
    [Identity("unit")] string Unit, DecisionBasis Basis, [Longest(500)] string? Note = null, ReleaseScope? Scope = null, DateTimeOffset? ValidUntil = null) : IRelease
{
    public HoldKind Hold => HoldKind.Pour;
}

/// <inheritdoc cref="TyingReleased"/>
[Fact("strip.released", 1, Kind = FactKind.Act, Role = Roles.PlantInspector, Also = Roles.QualityEngineer, Summary = "The strip hold of a unit was released.")]
public sealed record StripReleased(
    [Identity("unit")] string Unit, DecisionBasis Basis, [Longest(500)] string? Note = null, ReleaseScope? Scope = null, DateTimeOffset? ValidUntil = null) : IRelease
{
    public HoldKind Hold => HoldKind.Strip;
}

/// <inheritdoc cref="TyingReleased"/>
[Fact("ship.released", 1, Kind = FactKind.Act, Role = Roles.PlantInspector, Also = Roles.QualityEngineer, Summary = "The ship hold of a unit was released.")]
public sealed record ShipReleased(
    [Identity("unit")] string Unit, DecisionBasis Basis, [Longest(500)] string? Note = null, ReleaseScope? Scope = null, DateTimeOffset? ValidUntil = null) : IRelease
{
    public HoldKind Hold => HoldKind.Ship;
}

/// <summary>
/// A plant hold was overridden: by the quality engineer and a second approver who is not of production, with a reason. For an
/// agency hold, a lifting check or domestic steel there is no override: the record of one is a breach and opens nothing.
/// </summary>
[Fact("hold.overridden", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A hold was overridden.")]
public sealed record HoldOverridden(
    [Identity("unit")] string Unit,
    HoldKind Hold,
    [Longest(1000)] string Reason,
    [Identity("person")] string SecondApprover,
    [Description("Open items it goes over, \"requirement subject\"."), Longest(300), Entries(0, 400)] IReadOnlyList<string> OpenItems,
    [Description("Set where no override is allowed.")] bool Breach,
    DecisionBasis Basis) : IDecision
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A release was seen to have expired, and why. The judgement says so without it; this tells who saw it.</summary>
[Fact("release.expired", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Also = Roles.QualityEngineer, Summary = "A release was seen to have expired.")]
public sealed record ReleaseExpired(
    [Identity("unit")] string Unit,
    HoldKind Hold,
    [Description("The release, by the id in its receipt.")] Guid Release,
    [Longest(300)] string Cause) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

[Fact("release.undone", 1, Kind = FactKind.Act, Role = Roles.PlantInspector, Also = Roles.QualityEngineer, Summary = "A release was undone before its step was taken.")]
public sealed record ReleaseUndone(
    [Identity("unit")] string Unit,
    HoldKind Hold,
    [Description("The release, by the id in its receipt.")] Guid Release,
    [Longest(500)] string Reason) : IDecision
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}
