using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

[Fact("form.oiled", 1, Kind = FactKind.Reading, Role = Roles.FormCrew, Summary = "A form was coated with release agent for a unit.")]
public sealed record FormOiled([Identity("form")] string Form, [Identity("unit")] string Unit, [Longest(100)] string ReleaseAgent) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Form(Form))];
}

/// <summary>A form was changed to another set-up, or taken apart and put together; it is inspected before its next use.</summary>
[Fact("form.rebuilt", 1, Kind = FactKind.Reading, Role = Roles.FormCrew, Summary = "A form was rebuilt or changed to another set-up.")]
public sealed record FormRebuilt(
    [Identity("form")] string Form,
    [Description("Set-up it has now: span segments, leg height, fillers, blockouts."), Longest(60)] string SetUp,
    [Longest(500)] string Changes) : IFact
{
    public Subject About => Subject.Form(Form);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A form's set-up was inspected on first use or after a rebuild.</summary>
[Fact("form.inspected", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Summary = "The set-up of a form was inspected.")]
public sealed record FormInspected(
    [Identity("form")] string Form,
    [Longest(60)] string SetUp,
    [Entries(0, 200)] IReadOnlyList<MeasuredDimension> Dimensions,
    [Description("Whether the set-up may be used.")] bool Fit,
    [Description("Rated for the full fluid head of concrete.")] bool FullHead,
    [Identity("instrument"), Entries(0, 40)] IReadOnlyList<string> Instruments,
    [Description("Rated pressure, pounds per square foot, where it is not rated for full head."), Positive] Reading? RatedPressurePsf = null,
    [Longest(1000)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Form(Form);

    public IEnumerable<Link> Links() => Instruments.Select(i => Link.JudgedBy(About, Subject.Instrument(i)));
}

[Fact("cage.set", 1, Kind = FactKind.Reading, Role = Roles.FormCrew, Also = Roles.CageCrew, Summary = "A cage was set into a form for a unit.")]
public sealed record CageSet([Identity("unit")] string Unit, [Identity("cage")] string Cage, [Identity("form")] string Form) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.MadeFrom(About, Subject.Cage(Cage)), Link.JudgedBy(About, Subject.Form(Form))];
}

public sealed record FixedItem(
    [Description("The item's name on the drawing.")] string Item,
    [Between(1, 100_000)] int Count,
    [Description("The lot, where it is known.")] LotId? Lot = null);

/// <summary>Inserts, sleeves, lifters and blockouts were fixed in the form.</summary>
[Fact("inserts.fixed", 1, Kind = FactKind.Reading, Role = Roles.FormCrew, Summary = "Inserts, sleeves, lifters or blockouts were fixed in the form.")]
public sealed record InsertsFixed(
    [Identity("unit")] string Unit,
    [Identity("form")] string Form,
    [Entries(1, 200)] IReadOnlyList<FixedItem> Items) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() =>
        Items.Where(i => i.Lot is not null).Select(i => Link.MadeFrom(About, i.Lot!.Subject)).Prepend(Link.JudgedBy(About, Subject.Form(Form)));
}

[Fact("form.closed", 1, Kind = FactKind.Reading, Role = Roles.FormCrew, Summary = "A form was closed around a unit's cage.")]
public sealed record FormClosed(
    [Identity("unit")] string Unit,
    [Identity("form")] string Form,
    [Description("Set-up of the form."), Longest(60)] string SetUp) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Form(Form))];
}
