using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

[Fact("agency.present", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency's inspector was present for a step.")]
public sealed record AgencyPresent(
    [Identity("unit"), Entries(1, 100)] IReadOnlyList<string> Units,
    HoldKind Hold,
    [Longest(300)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Units[0]);

    public IEnumerable<Link> Links() => Units.Skip(1).Select(u => Link.About(Subject.Unit(u)));
}

[Fact("agency.witnessed", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency's inspector witnessed a step or a test.")]
public sealed record AgencyWitnessed(
    [Identity("unit")] string Unit,
    HoldKind Hold,
    [Longest(300)] string What) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

/// <summary>The agency released its hold; by its inspector, or by a letter that the quality engineer records.</summary>
[Fact("agency-hold.released", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency released its hold of a unit.")]
public sealed record AgencyHoldReleased(
    [Identity("unit")] string Unit,
    HoldKind Hold,
    [Description("The agency's letter; left out when its inspector signs."), Longest(200)] string? Letter = null,
    [Description("Until when it holds; left out when open.")] DateTimeOffset? ValidUntil = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

/// <summary>The agency waived its presence, its hold or a requirement, for named units and a time.</summary>
[Fact("agency.waived", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency waived a hold, its presence or a requirement.")]
public sealed record AgencyWaived(
    [Identity("unit"), Entries(1, 100)] IReadOnlyList<string> Units,
    HoldKind Hold,
    [Description("First moment it holds for.")] DateTimeOffset From,
    [Description("Last moment it holds for.")] DateTimeOffset Until,
    [Longest(200)] string Letter,
    [Description("The requirement that is waived; left out when the agency's hold or presence is."), Longest(100)] string? Requirement = null,
    [Longest(500)] string? Conditions = null) : IFact
{
    public Subject About => Subject.Unit(Units[0]);

    public IEnumerable<Link> Links() => Units.Skip(1).Select(u => Link.About(Subject.Unit(u)));

    public IEnumerable<ShapeProblem> Check() =>
        Until < From ? [new("data.until", "must not be before from", "Check both times and their offsets.")] : [];
}

[Fact("unit.stamped", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency stamped a unit.")]
public sealed record UnitStamped([Identity("unit")] string Unit, [Longest(60)] string Stamp) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

[Fact("agency.rejected", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency rejected a unit.")]
public sealed record AgencyRejected([Identity("unit")] string Unit, [Longest(500)] string Reason, [Longest(200)] string? Letter = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}

/// <summary>The agency accepted by letter what is not met.</summary>
[Fact("agency.accepted", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency accepted by letter what is not met.")]
public sealed record AgencyAccepted(
    [Identity("unit")] string Unit,
    [Entries(1, 40)] IReadOnlyList<AcceptedFinding> Accepts,
    [Longest(200)] string Letter,
    DateOnly AcceptedOn,
    [Longest(1000)] string? Conditions = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];
}
