using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

[Fact("role.granted", 1, Kind = FactKind.Act, Role = Roles.Administrator, Summary = "A person was granted a role.")]
public sealed record RoleGranted(
    [Identity("person")] string Person,
    [Description("One of the plant's roles."), Longest(40)] string GrantedRole,
    DateOnly From,
    [Description("Last day, inclusive; left out when open.")] DateOnly? Through = null) : IFact
{
    public Subject About => Subject.Person(Person);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        Roles.All.Contains(GrantedRole) ? [] : [new("data.grantedRole", "must be one of " + string.Join(", ", Roles.All), "Write the role like this.")];
}

/// <summary>A named deputy does a person's duty for a time.</summary>
[Fact("role.delegated", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A person's duty was delegated to a named deputy for a time.")]
public sealed record RoleDelegated(
    [Description("Whose duty it is."), Identity("person")] string Person,
    [Identity("person")] string Deputy,
    [Longest(40)] string DelegatedRole,
    DateOnly From,
    DateOnly Through,
    [Longest(500)] string Reason) : IFact
{
    public Subject About => Subject.Person(Deputy);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        Through < From ? [new("data.through", "must not be before from", "Check both dates.")] : [];
}

/// <summary>An instrument was found out of tolerance; every result since its last good calibration is in doubt.</summary>
[Fact("instrument.found-out", 1, Kind = FactKind.Reading, Role = Roles.QualityEngineer, Also = Roles.Laboratory, Summary = "An instrument was found out of tolerance.")]
public sealed record InstrumentFoundOut(
    [Identity("instrument")] string Instrument,
    DateOnly FoundOn,
    [Description("As-found error, of reading; positive when it reads high.")] Reading ErrorPct,
    [Longest(500)] string Remarks) : IFact
{
    public Subject About => Subject.Instrument(Instrument);

    public IEnumerable<Link> Links() => [];
}

public enum ApprovalStatus { Approved, Conditional, Probationary, Withdrawn }

/// <summary>An agency's approval of the plant, for a time.</summary>
[Fact("plant.approved", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "An agency's approval of the plant was read in.")]
public sealed record PlantApproved(
    [Identity("plant", Longest = 40)] string Plant,
    string Agency,
    [Description("Products it covers, as the agency names them.")] string Covers,
    ApprovalStatus Status,
    DateOnly From,
    [Description("Last day, inclusive.")] DateOnly Through,
    string Document) : IFact
{
    public Subject About => Subject.Plant(Plant);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        Through < From ? [new("data.through", "must not be before from", "Check both dates.")] : [];
}

public sealed record ScalePoint([NotNegative] Reading AppliedLb, [NotNegative] Reading IndicatedLb);

/// <summary>A scale was loaded with test weights over its range.</summary>
[Fact("scale.checked", 1, Kind = FactKind.Reading, Role = Roles.QualityEngineer, Also = Roles.BatchOperator, Summary = "A scale was checked with test weights.")]
public sealed record ScaleChecked(
    [Identity("instrument")] string Instrument,
    DateOnly CheckedOn,
    [Positive] Reading CapacityLb,
    [Entries(1, 40)] IReadOnlyList<ScalePoint> Points) : IFact
{
    public Subject About => Subject.Instrument(Instrument);

    public IEnumerable<Link> Links() => [];
}
