using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>A new revision was drawn. It governs nothing before its approval is recorded.</summary>
[Fact("drawing.revised", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A new revision of a shop drawing was issued for approval.")]
public sealed record DrawingRevised(
    [Identity("drawing")] string Drawing,
    [Longest(20)] string Revision,
    DateOnly IssuedOn,
    [Description("What changed."), Longest(1000)] string Changes) : IFact
{
    public Subject About => Subject.Drawing(Drawing);

    public IEnumerable<Link> Links() => [];
}

[Fact("drawing.superseded", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A revision of a shop drawing may no longer be cast to.")]
public sealed record DrawingSuperseded(
    [Identity("drawing")] string Drawing,
    [Longest(20)] string Revision,
    [Description("From this moment no unit may be poured to the old revision.")] DateTimeOffset From,
    [Longest(500)] string Reason,
    [Description("The revision that takes its place; left out when none does."), Longest(20)] string? By = null) : IFact
{
    public Subject About => Subject.Drawing(Drawing);

    public IEnumerable<Link> Links() => [];
}
