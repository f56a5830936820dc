using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>The day a contract's federal funds were obligated; it decides which domestic-content rules hold (2 CFR 184, 23 CFR 635.410).</summary>
[Fact("contract.obligated", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "The day a contract's plan was obligated was read in.")]
public sealed record ContractObligated(
    [Identity("contract")] string Contract,
    DateOnly ObligatedOn,
    [Description("The letter or notice that states it.")] string Document) : IFact
{
    public Subject About => Subject.Contract(Contract);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A person compared one limit of a published profile with the page of its document.</summary>
[Fact("profile.confirmed", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A limit of a profile was confirmed against the page of its document.")]
public sealed record ProfileConfirmed(
    [Identity("profile", Longest = 80)] string Profile,
    [Between(1, 1_000_000)] int Version,
    [Description("Key of the limit."), Longest(100)] string Key,
    [Description("Document it was compared with.")] string Document,
    [Longest(100)] string Page,
    DateOnly ConfirmedOn) : IFact
{
    public Subject About => Subject.Profile(Profile, Version);

    public IEnumerable<Link> Links() => [];
}

/// <summary>From now on the contract is judged by this profile version. Publishing a version touches nothing until it is adopted.</summary>
[Fact("profile.adopted", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A contract adopted a profile version.")]
public sealed record ProfileAdopted(
    [Identity("contract")] string Contract,
    [Identity("profile", Longest = 80)] string Profile,
    [Between(1, 1_000_000)] int Version,
    [Longest(500)] string Reason) : IFact
{
    public Subject About => Subject.Contract(Contract);

    public IEnumerable<Link> Links() => [Link.GovernedBy(About, Subject.Profile(Profile, Version))];
}

/// <summary>The agency was told when a step that it may attend will be taken.</summary>
[Fact("notice.given", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "The agency was given notice of a step.")]
public sealed record NoticeGiven(
    [Identity("unit"), Entries(1, 100)] IReadOnlyList<string> Units,
    HoldKind Hold,
    [Description("When the step will be taken.")] DateTimeOffset StepAt,
    [Description("The message or letter."), Longest(200)] string Document) : IFact
{
    public Subject About => Subject.Unit(Units[0]);

    public IEnumerable<Link> Links() => Units.Skip(1).Select(u => Link.About(Subject.Unit(u)));
}
