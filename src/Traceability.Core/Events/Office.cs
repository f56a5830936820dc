using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>A version of the limits that units are judged by, complete, as data.</summary>
[Fact("profile.published", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A version of a profile of limits was published.")]
public sealed record ProfilePublished(
    [Identity("profile", Longest = 80)] string Profile,
    [Between(1, 1_000_000)] int Version,
    string Title,
    [Description("How observed values are rounded to the limit's digits before they are compared.")] RoundingRule Rounding,
    [Description("The holds that need a person's release before the step."), Entries(0, 20)] IReadOnlyList<HoldKind> Releases,
    [Entries(1, 500)] IReadOnlyList<Limit> Limits,
    [Description("The profile version it was made from, \"name@version\".")] string? Inherits = null,
    [Description("Ranks of documents, strongest first, where they are not in the usual order.")] IReadOnlyList<LimitRank>? Precedence = null,
    [Description("The editions and agency rules it chose.")] IReadOnlyList<EditionChoice>? Editions = null,
    [Description("The plant's own limits that are tighter than the contract's; they hold back work and never stand in a packet."), Entries(0, 500)] IReadOnlyList<Limit>? PlanLimits = null,
    [Description("Requirements and limits that a document of the contract lifts.")] IReadOnlyList<NotAsked>? NotAsked = null,
    [Description("Figures that were stated and are not the limit, with the reason.")] IReadOnlyList<Overruled>? Overruled = null,
    [Description("Who must act at a hold and how long a release stands; a hold that is not listed is a plant hold without expiry."), Entries(0, 20)] IReadOnlyList<HoldRule>? Holds = null,
    [Description("The agency whose limits they are, named as its contracts name it; stock cast to it is open to its inspectors.")] string? Agency = null) : IFact
{
    public Subject About => Subject.Profile(Profile, Version);

    // A version is published once: two that differ leave nobody able to say which was adopted.
    public string? BusinessKey => About.Key;

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        Limits.GroupBy(l => l.Key, StringComparer.Ordinal).Where(g => g.Count() > 1)
            .Select(g => new ShapeProblem("data.limits", $"must state each limit once, it states '{g.Key}' {g.Count()} times", "Remove the repeats."));
}

/// <summary>Who stands behind a hold.</summary>
public enum HoldAuthority
{
    /// <summary>The plant's own.</summary>
    Plant,
    /// <summary>The agency is given notice and may attend; the step may be taken without it after due notice.</summary>
    AgencyWitness,
    /// <summary>The agency must act; no plant decision opens it.</summary>
    AgencyHold,
}

/// <summary>What ends a release before its time.</summary>
public enum ExpiryCause { Rain, CageMoved, NewRevision, LotQuarantined }

/// <summary>The rule of one hold under a profile.</summary>
public sealed record HoldRule(
    HoldKind Hold,
    HoldAuthority Authority,
    [Description("How long a release stands, hours; left out when time does not end it."), Positive] Reading? ValidHours = null,
    [Entries(0, 10)] IReadOnlyList<ExpiryCause>? ExpiresOn = null,
    [Description("Notice the agency is due before the step, hours; left out when none is."), NotNegative] Reading? NoticeHours = null,
    [Description("Whether a person of another station role releases it: plant-inspector or quality-engineer."), Longest(40)] string? ReleasedBy = null,
    [Longest(300)] string? Source = null,
    [Description("Hours in which a release by telephone is confirmed; left out where the agency releases none by telephone."), Positive] Reading? TelephoneHours = null);

/// <summary>A contract was opened and adopted a profile version.</summary>
[Fact("contract.opened", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A contract was opened and adopted a profile version.")]
public sealed record ContractOpened(
    [Identity("contract")] string Contract,
    string Title,
    string Agency,
    [Identity("profile", Longest = 80)] string Profile,
    [Between(1, 1_000_000)] int ProfileVersion,
    [Description("Day the federal funds were obligated; decides the domestic-steel rules. Left out when not federal.")] DateOnly? ObligatedOn = null,
    [Description("Day of the letting; editions of documents in force then count.")] DateOnly? LetOn = null) : IFact
{
    public Subject About => Subject.Contract(Contract);

    public IEnumerable<Link> Links() => [Link.GovernedBy(About, Subject.Profile(Profile, ProfileVersion))];
}

/// <summary>The face of a bar's cover: a formed soffit has a tighter limit than other faces.</summary>
public enum CoverFace { Formed, FormedSoffit, Finished, Earth }

public sealed record BarLine(
    [Longest(40)] string BarMark,
    [Description("\"#4\" or the wire designation, as on the drawing."), Longest(40)] string Size,
    [Between(1, 100_000)] int Count,
    [Positive] Reading LengthIn,
    CoverFace Face,
    [Description("Specified clear cover."), NotNegative] Reading CoverIn,
    [Description("Specified spacing.")] Reading? SpacingIn = null,
    [Description("Specified effective depth of the section at these bars; left out where the drawing gives none.")] Reading? DepthIn = null,
    [Description("Specified lap.")] Reading? LapIn = null);

/// <summary>A dimension of the casting with its specified value.</summary>
public sealed record SpecifiedDimension(
    [Description("Its name on the drawing.")] string Name,
    DimensionKind Kind,
    Reading SpecifiedIn);

public enum DimensionKind { Length, Thickness, Opening, Position }

/// <summary>Something cast in or blocked out, with how many the drawing shows.</summary>
public sealed record EmbedLine(string Item, [Between(1, 100_000)] int Count);

/// <summary>How the drawing says the piece is lifted.</summary>
public sealed record LiftingData(
    [Positive] Reading WeightLb,
    [Description("Sling legs assumed to share the load."), Between(1, 16)] int LegsThatCarry,
    [Description("Angle of the sling from the horizontal."), Positive, Between(0, 90)] Reading SlingAngleDeg,
    [Description("Ultimate capacity of one insert at the strength required."), Positive] Reading InsertUltimateLbf,
    [Description("Concrete strength the insert's capacity rests on."), Positive] Reading StrengthRequiredPsi);

[Fact("drawing.approved", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A revision of a shop drawing was approved.")]
public sealed record DrawingApproved(
    [Identity("drawing")] string Drawing,
    [Longest(20)] string Revision,
    [Longest(60)] string Product,
    DateOnly ApprovedOn,
    [Description("The letter or stamp that approves it.")] string ApprovalDocument,
    [Positive] Reading DesignStrengthPsi,
    [Description("Strength before stripping."), Positive] Reading StripStrengthPsi,
    [Description("Strength before shipping."), Positive] Reading ShipStrengthPsi,
    [Entries(1, 400)] IReadOnlyList<BarLine> Bars,
    [Entries(0, 200)] IReadOnlyList<SpecifiedDimension> Dimensions,
    [Entries(0, 200)] IReadOnlyList<EmbedLine> Embeds,
    LiftingData Lifting) : IFact
{
    public Subject About => Subject.Drawing(Drawing);

    public IEnumerable<Link> Links() => [];
}

[Fact("mix.approved", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A concrete mix was approved for use, with its targets.")]
public sealed record MixApproved(
    [Identity("mix")] string Mix,
    [Longest(100)] string Designation,
    DateOnly ApprovedOn,
    [Description("The letter or form that approves it.")] string ApprovalDocument,
    [Positive] Reading DesignStrengthPsi,
    [Description("Largest water to cementitious ratio."), Positive] Reading MaxWcm,
    Reading TargetAirPct,
    [Description("Nominal maximum size of the aggregate.")] Reading NmsaIn,
    [Description("Last day of the approval, inclusive; left out when open.")] DateOnly? ValidThrough = null,
    [Description("Target slump flow of self-consolidating concrete.")] Reading? TargetFlowIn = null,
    [Description("Target slump of conventional concrete.")] Reading? TargetSlumpIn = null,
    [Description("Theoretical density of the mix."), Positive] Reading? DensityLbFt3 = null,
    [Description("Cementitious content of the design, pounds a cubic yard."), Positive] Reading? CementitiousLbYd3 = null,
    [Description("Dry-cast: stripped at once, without flow and without fluid pressure.")] bool? DryCast = null,
    [Description("Age its acceptance strength is due at, days; left out for 28."), Between(1, 365)] int? AcceptanceAgeDays = null,
    [Description("Order the ingredients are charged in, where the mix prescribes one."), Entries(0, 60)] IReadOnlyList<string>? ChargingOrder = null) : IFact
{
    public Subject About => Subject.Mix(Mix);

    public IEnumerable<Link> Links() => [];
}

/// <summary>One casting of a mark was scheduled under its own serial.</summary>
[Fact("unit.scheduled", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "One casting of a mark was scheduled under its own serial.")]
public sealed record UnitScheduled(
    [Description("The plant's serial of this casting; never used again."), Identity("unit")] string Unit,
    [Longest(40)] string Mark,
    [Identity("drawing")] string Drawing,
    [Longest(20)] string Revision,
    [Identity("mix")] string Mix,
    [Identity("form")] string Form,
    DateOnly PourOn,
    [Description("Left out for a stock unit, which is allocated to a contract later."), Identity("contract")] string? Contract = null,
    [Description("Profile that a stock unit is cast to until it is allocated."), Identity("profile", Longest = 80)] string? StockProfile = null,
    [Between(1, 1_000_000)] int? StockProfileVersion = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<ShapeProblem> Check()
    {
        if (Contract is not null && StockProfile is not null) yield return new("data.stockProfile", "must be left out when contract is given", "A unit of a contract is judged by the profile its contract adopted.");
        if (StockProfile is null != StockProfileVersion is null) yield return new("data.stockProfileVersion", "must be given with stockProfile", "Name the version of the profile.");
    }

    public IEnumerable<Link> Links() =>
    [
        .. Contract is null ? [] : new[] { Link.GovernedBy(About, Subject.Contract(Contract)) },
        .. StockProfile is null ? [] : new[] { Link.GovernedBy(About, Subject.Profile(StockProfile, StockProfileVersion ?? 1)) },
        Link.GovernedBy(About, Subject.Drawing(Drawing)),
        Link.GovernedBy(About, Subject.Mix(Mix)),
        Link.JudgedBy(About, Subject.Form(Form)),
    ];
}
