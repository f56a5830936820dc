using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>
/// What the agency did: said by its inspector with an own account, or entered by the plant from the agency's letter, whose hash it then names.
/// </summary>
public interface IAgencyAct : IFact
{
    /// <summary>SHA-256 of the letter it was entered from, lower-case hex; null when the agency's inspector says it.</summary>
    string? LetterSha256 { get; }

    /// <summary>The units it is about.</summary>
    IEnumerable<Subject> Acted => [About];

    internal static IEnumerable<ShapeProblem> CheckLetter(string? sha256) =>
        sha256 is null || (sha256.Length == 64 && sha256.All(char.IsAsciiHexDigitLower)) ? []
            : [new("data.letterSha256", "must be 64 lower-case hex digits", "Upload the letter and send the SHA-256 it was kept under.")];
}

/// <summary>A person acts at the plant as an agency's inspector, for a time; for several agencies by several assignments.</summary>
[Fact("inspector.assigned", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Also = Roles.Administrator, Summary = "A person was assigned to the plant as an agency's inspector, for a time.")]
public sealed record InspectorAssigned(
    [Identity("person")] string Person,
    [Description("The agency, named as its contracts name it.")] string Agency,
    DateOnly From,
    [Description("Last day, inclusive; left out while open.")] DateOnly? Through = null,
    [Description("The agency's message or letter that says so."), Longest(200)] string? Document = null) : IFact
{
    public Subject About => Subject.Person(Person);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        Through < From ? [new("data.through", "must not be before from", "Check both days.")] : [];
}

[Fact("agency.present", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency's inspector was present for a step.")]
public sealed record AgencyPresent(
    [Identity("unit"), Entries(1, 100)] IReadOnlyList<string> Units,
    HoldKind Hold,
    [Longest(300)] string? Remarks = null,
    [Description("SHA-256 of the agency's letter it was entered from; left out when its inspector says it."), Longest(64)] string? LetterSha256 = null) : IAgencyAct
{
    public IEnumerable<Subject> Acted => Units.Select(Subject.Unit);

    public Subject About => Subject.Unit(Units[0]);

    public IEnumerable<Link> Links() => Units.Skip(1).Select(u => Link.About(Subject.Unit(u)));

    public IEnumerable<ShapeProblem> Check() => IAgencyAct.CheckLetter(LetterSha256);
}

[Fact("agency.witnessed", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency's inspector witnessed a step or a test.")]
public sealed record AgencyWitnessed(
    [Identity("unit")] string Unit,
    HoldKind Hold,
    [Longest(300)] string What,
    [Description("SHA-256 of the agency's letter it was entered from; left out when its inspector says it."), Longest(64)] string? LetterSha256 = null) : IAgencyAct
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => IAgencyAct.CheckLetter(LetterSha256);
}

/// <summary>What the agency's inspector said by telephone; it stands until it is confirmed by an own record or a letter.</summary>
public sealed record ByTelephone(
    [Description("The inspector who said it."), Identity("person")] string Speaker,
    DateTimeOffset SaidAt,
    [Description("The words, as they were heard."), Longest(500)] string Words);

/// <summary>The agency released its hold; by its inspector, or by a letter that the quality engineer records.</summary>
[Fact("agency-hold.released", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency released its hold of a unit.")]
public sealed record AgencyHoldReleased(
    [Identity("unit")] string Unit,
    HoldKind Hold,
    [Description("The agency's letter; left out when its inspector signs."), Longest(200)] string? Letter = null,
    [Description("Until when it holds; left out when open.")] DateTimeOffset? ValidUntil = null,
    [Description("SHA-256 of the agency's letter it was entered from; left out when its inspector says it."), Longest(64)] string? LetterSha256 = null,
    [Description("How it was said, where it was said by telephone and the profile allows that.")] ByTelephone? Telephone = null) : IAgencyAct
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => IAgencyAct.CheckLetter(LetterSha256);
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
    [Longest(500)] string? Conditions = null,
    [Description("SHA-256 of the agency's letter it was entered from; left out when its inspector says it."), Longest(64)] string? LetterSha256 = null) : IAgencyAct
{
    public IEnumerable<Subject> Acted => Units.Select(Subject.Unit);

    public Subject About => Subject.Unit(Units[0]);

    public IEnumerable<Link> Links() => Units.Skip(1).Select(u => Link.About(Subject.Unit(u)));

    public IEnumerable<ShapeProblem> Check() =>
        Until < From ? [new("data.until", "must not be before from", "Check both times and their offsets.")] : IAgencyAct.CheckLetter(LetterSha256);
}

[Fact("unit.stamped", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency stamped a unit.")]
public sealed record UnitStamped(
    [Identity("unit")] string Unit,
    [Longest(60)] string Stamp,
    [Description("SHA-256 of the agency's letter it was entered from; left out when its inspector says it."), Longest(64)] string? LetterSha256 = null) : IAgencyAct
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => IAgencyAct.CheckLetter(LetterSha256);
}

[Fact("agency.rejected", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency rejected a unit.")]
public sealed record AgencyRejected(
    [Identity("unit")] string Unit,
    [Longest(500)] string Reason,
    [Longest(200)] string? Letter = null,
    [Description("SHA-256 of the agency's letter it was entered from; left out when its inspector says it."), Longest(64)] string? LetterSha256 = null) : IAgencyAct
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => IAgencyAct.CheckLetter(LetterSha256);
}

/// <summary>The agency accepted by letter what is not met.</summary>
[Fact("agency.accepted", 1, Kind = FactKind.Act, Role = Roles.AgencyInspector, Also = Roles.QualityEngineer, Summary = "The agency accepted by letter what is not met.")]
public sealed record AgencyAccepted(
    [Identity("unit")] string Unit,
    [Entries(1, 40)] IReadOnlyList<AcceptedFinding> Accepts,
    [Longest(200)] string Letter,
    DateOnly AcceptedOn,
    [Longest(1000)] string? Conditions = null,
    [Description("SHA-256 of the agency's letter it was entered from; left out when its inspector says it."), Longest(64)] string? LetterSha256 = null) : IAgencyAct
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() => IAgencyAct.CheckLetter(LetterSha256);
}
