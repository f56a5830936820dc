using Traceability.Core.Dossiers;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>A version of the limits that units are judged by, complete, as data.</summary>
/// <param name="Rounding">How observed values are rounded to the limit's digits before they are compared.</param>
/// <param name="Releases">The holds that need a person's release before the step.</param>
[Fact("profile.published", 1, Role = Roles.QualityEngineer, Summary = "A version of a profile of limits was published.")]
public sealed record ProfilePublished(
    string Profile, int Version, string Title, RoundingRule Rounding,
    IReadOnlyList<HoldKind> Releases, IReadOnlyList<Limit> Limits) : IFact
{
    public Subject About => Subject.Profile(Profile, Version);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        Shape.Id("data.profile", Profile, "profile")
            .Concat(Shape.Text("data.title", Title, 200))
            .Concat(Shape.Some("data.limits", Limits, 500))
            .Concat(Limits.GroupBy(l => l.Key, StringComparer.Ordinal).Where(g => g.Count() > 1)
                .Select(g => new ShapeProblem("data.limits", $"names '{g.Key}' {g.Count()} times; a limit stands once", "Remove the repeats.")));
}

/// <summary>A contract was opened and adopted a profile version.</summary>
/// <param name="ObligatedOn">Date the federal funds were obligated; decides the domestic-steel rules. Null when not federal.</param>
[Fact("contract.opened", 1, Role = Roles.QualityEngineer, Summary = "A contract was opened and adopted a profile version.")]
public sealed record ContractOpened(
    string Contract, string Title, string Agency, string Profile, int ProfileVersion,
    DateOnly? ObligatedOn = null, DateOnly? LetOn = null) : IFact
{
    public Subject About => Subject.Contract(Contract);

    public IEnumerable<Link> Links() => [Link.GovernedBy(About, Subject.Profile(Profile, ProfileVersion))];

    public IEnumerable<ShapeProblem> Check() =>
        Shape.Id("data.contract", Contract, "contract").Concat(Shape.Id("data.profile", Profile, "profile"))
            .Concat(Shape.Text("data.title", Title, 200)).Concat(Shape.Text("data.agency", Agency, 200));
}

/// <summary>The face of a bar's cover: a formed soffit has a tighter limit than other faces.</summary>
public enum CoverFace { Formed, FormedSoffit, Finished, Earth }

/// <param name="Size">"#4" or the wire designation, as on the drawing.</param>
/// <param name="DepthIn">Specified effective depth of the section at these bars, inches; null where the drawing gives none.</param>
public sealed record BarLine(string BarMark, string Size, int Count, Reading LengthIn, CoverFace Face, Reading CoverIn,
    Reading? SpacingIn = null, Reading? DepthIn = null, Reading? LapIn = null);

/// <summary>A dimension of the casting with its specified value, inches.</summary>
public sealed record SpecifiedDimension(string Name, DimensionKind Kind, Reading SpecifiedIn);

public enum DimensionKind { Length, Thickness, Opening, Position }

/// <summary>Something cast in or blocked out, with how many the drawing shows.</summary>
public sealed record EmbedLine(string Item, int Count);

/// <summary>How the drawing says the piece is lifted.</summary>
/// <param name="LegsThatCarry">Sling legs assumed to share the load.</param>
/// <param name="SlingAngleDeg">Angle of the sling from the horizontal, degrees.</param>
/// <param name="InsertUltimateLbf">Ultimate capacity of one insert at <paramref name="StrengthRequiredPsi"/>, pounds-force.</param>
public sealed record LiftingData(Reading WeightLb, int LegsThatCarry, Reading SlingAngleDeg, Reading InsertUltimateLbf, Reading StrengthRequiredPsi);

[Fact("drawing.approved", 1, Role = Roles.QualityEngineer, Summary = "A revision of a shop drawing was approved.")]
public sealed record DrawingApproved(
    string Drawing, string Revision, string Product, DateOnly ApprovedOn, string ApprovalDocument,
    Reading DesignStrengthPsi, Reading StripStrengthPsi, Reading ShipStrengthPsi,
    IReadOnlyList<BarLine> Bars, IReadOnlyList<SpecifiedDimension> Dimensions, IReadOnlyList<EmbedLine> Embeds,
    LiftingData Lifting) : IFact
{
    public Subject About => Subject.Drawing(Drawing);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        Shape.Id("data.drawing", Drawing, "drawing").Concat(Shape.Text("data.revision", Revision, 20))
            .Concat(Shape.Text("data.product", Product, 60)).Concat(Shape.Text("data.approvalDocument", ApprovalDocument, 200))
            .Concat(Shape.Positive("data.designStrengthPsi", DesignStrengthPsi))
            .Concat(Shape.Positive("data.stripStrengthPsi", StripStrengthPsi))
            .Concat(Shape.Positive("data.shipStrengthPsi", ShipStrengthPsi))
            .Concat(Shape.Some("data.bars", Bars, 400)).Concat(Shape.AtMost("data.dimensions", Dimensions, 200)).Concat(Shape.AtMost("data.embeds", Embeds, 200));
}

[Fact("mix.approved", 1, Role = Roles.QualityEngineer, Summary = "A concrete mix was approved for use, with its targets.")]
public sealed record MixApproved(
    string Mix, string Designation, DateOnly ApprovedOn, string ApprovalDocument, Reading DesignStrengthPsi,
    Reading MaxWcm, Reading TargetAirPct, Reading TargetFlowIn, Reading NmsaIn,
    DateOnly? ValidThrough = null) : IFact
{
    public Subject About => Subject.Mix(Mix);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        Shape.Id("data.mix", Mix, "mix").Concat(Shape.Text("data.designation", Designation, 100))
            .Concat(Shape.Text("data.approvalDocument", ApprovalDocument, 200))
            .Concat(Shape.Positive("data.designStrengthPsi", DesignStrengthPsi)).Concat(Shape.Positive("data.maxWcm", MaxWcm));
}

/// <summary>One casting of a mark was scheduled under its own serial.</summary>
[Fact("unit.scheduled", 1, Role = Roles.QualityEngineer, Summary = "One casting of a mark was scheduled under its own serial.")]
public sealed record UnitScheduled(
    string Unit, string Mark, string Contract, string Drawing, string Revision, string Mix, string Form, DateOnly PourOn) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() =>
    [
        Link.GovernedBy(About, Subject.Contract(Contract)),
        Link.GovernedBy(About, Subject.Drawing(Drawing)),
        Link.GovernedBy(About, Subject.Mix(Mix)),
        Link.JudgedBy(About, Subject.Form(Form)),
    ];

    public IEnumerable<ShapeProblem> Check() =>
        Shape.Id("data.unit", Unit, "unit").Concat(Shape.Text("data.mark", Mark, 40)).Concat(Shape.Id("data.contract", Contract, "contract"))
            .Concat(Shape.Id("data.drawing", Drawing, "drawing")).Concat(Shape.Text("data.revision", Revision, 20))
            .Concat(Shape.Id("data.mix", Mix, "mix")).Concat(Shape.Id("data.form", Form, "form"));
}
