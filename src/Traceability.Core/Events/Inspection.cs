using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>Bars as counted in the form.</summary>
public sealed record CountedBars(
    [Longest(40)] string BarMark,
    [Description("\"#4\" or the wire designation."), Longest(40)] string Size,
    [Between(0, 100_000)] int Count,
    [Description("Spacing as measured.")] Reading? SpacingIn = null,
    [Description("Lap as measured.")] Reading? LapIn = null);

/// <summary>A cover reading at one place for the bars of one bar mark.</summary>
public sealed record CoverReading(
    [Description("Where on the unit it was measured.")] string Place,
    [Longest(40)] string BarMark,
    [Description("Clear cover as read.")] Reading CoverIn,
    [Description("Effective depth at the place as measured, where it was taken.")] Reading? DepthIn = null);

[Fact("close-up.inspected", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Summary = "Steel and form were inspected before the form closed.")]
public sealed record CloseUpInspected(
    [Identity("unit")] string Unit,
    [Description("The cage that is in the form."), Identity("cage")] string Cage,
    [Identity("form")] string Form,
    IReadOnlyList<CountedBars> Bars,
    IReadOnlyList<CoverReading> Covers,
    bool SpacersInPlace,
    bool InsertsInPlace,
    bool LiftersInPlace,
    [Description("Release agent on the steel, as the inspector saw it.")] bool OilOnSteel,
    [Identity("instrument"), Entries(0, 40)] IReadOnlyList<string> Instruments,
    [Longest(1000)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() =>
        Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i)))
            .Prepend(Link.JudgedBy(About, Subject.Form(Form))).Prepend(Link.MadeFrom(About, Subject.Cage(Cage)));
}

public sealed record MeasuredDimension(
    [Description("The dimension's name on the drawing.")] string Name,
    [Description("As measured.")] Reading MeasuredIn);

public sealed record EmbedFound(
    [Description("The item's name on the drawing.")] string Item,
    [Between(0, 100_000)] int Count,
    bool PlacedAsDrawn);

[Fact("pre-pour.inspected", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Summary = "The closed form was inspected before the pour.")]
public sealed record PrePourInspected(
    [Identity("unit")] string Unit,
    [Identity("form")] string Form,
    [Entries(0, 200)] IReadOnlyList<MeasuredDimension> Dimensions,
    [Entries(0, 200)] IReadOnlyList<EmbedFound> Embeds,
    [Description("The closed form is tight.")] bool FormTight,
    [Identity("instrument"), Entries(0, 40)] IReadOnlyList<string> Instruments,
    [Longest(1000)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() =>
        Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i))).Prepend(Link.JudgedBy(About, Subject.Form(Form)));
}
