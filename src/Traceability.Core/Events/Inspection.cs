using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>Bars as counted in the form.</summary>
public sealed record CountedBars(string BarMark, string Size, int Count, Reading? SpacingIn = null, Reading? LapIn = null);

/// <summary>A cover reading at one place, inches, for the bars of one bar mark.</summary>
/// <param name="DepthIn">Measured effective depth at the place, inches, where it was taken.</param>
public sealed record CoverReading(string Place, string BarMark, Reading CoverIn, Reading? DepthIn = null);

[Fact("close-up.inspected", 1, Role = Roles.PlantInspector, Summary = "Steel and form were inspected before the form closed.")]
public sealed record CloseUpInspected(
    string Unit, string Cage, string Form, IReadOnlyList<CountedBars> Bars, IReadOnlyList<CoverReading> Covers,
    bool SpacersInPlace, bool InsertsInPlace, bool LiftersInPlace, bool OilOnSteel, IReadOnlyList<string> Instruments, string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() =>
        Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i)))
            .Prepend(Link.JudgedBy(About, Subject.Form(Form))).Prepend(Link.MadeFrom(About, Subject.Cage(Cage)));

    public IEnumerable<ShapeProblem> Check() =>
        Shape.Id("data.unit", Unit, "unit").Concat(Shape.Id("data.cage", Cage, "cage")).Concat(Shape.Id("data.form", Form, "form"))
            .Concat(Shape.AtMost("data.bars", Bars, 400)).Concat(Shape.AtMost("data.covers", Covers, 400))
            .Concat(Instruments.SelectMany((x, i) => Shape.Id($"data.instruments[{i}]", x, "instrument")));
}

public sealed record MeasuredDimension(string Name, Reading MeasuredIn);

public sealed record EmbedFound(string Item, int Count, bool PlacedAsDrawn);

[Fact("pre-pour.inspected", 1, Role = Roles.PlantInspector, Summary = "The closed form was inspected before the pour.")]
public sealed record PrePourInspected(
    string Unit, string Form, IReadOnlyList<MeasuredDimension> Dimensions, IReadOnlyList<EmbedFound> Embeds,
    bool FormTight, IReadOnlyList<string> Instruments, string? Remarks = null) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() =>
        Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i))).Prepend(Link.JudgedBy(About, Subject.Form(Form)));

    public IEnumerable<ShapeProblem> Check() =>
        Shape.Id("data.unit", Unit, "unit").Concat(Shape.Id("data.form", Form, "form"))
            .Concat(Shape.AtMost("data.dimensions", Dimensions, 200)).Concat(Shape.AtMost("data.embeds", Embeds, 200))
            .Concat(Instruments.SelectMany((x, i) => Shape.Id($"data.instruments[{i}]", x, "instrument")));
}
