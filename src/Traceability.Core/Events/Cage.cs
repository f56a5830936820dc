using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>Bars of one bar mark tied into the cage, with the lots (heats) they were taken from.</summary>
public sealed record TiedBars(
    [Longest(40)] string BarMark,
    [Description("\"#4\" or the wire designation."), Longest(40)] string Size,
    [Between(1, 100_000)] int Count,
    [Description("Heats or bundles as read from their tags."), Entries(0, 40)] IReadOnlyList<LotId> Lots,
    [Description("The rack they were taken from, where no tag was read: every lot that could have been in it is possible."), Identity("storage")] string? Rack = null);

[Fact("cage.tied", 1, Kind = FactKind.Reading, Role = Roles.CageCrew, Summary = "A reinforcement cage was tied from named lots.")]
public sealed record CageTied(
    [Identity("cage")] string Cage,
    [Description("The unit the cage is tied for; cages can be swapped later."), Identity("unit")] string Unit,
    [Identity("drawing")] string Drawing,
    [Longest(20)] string Revision,
    [Entries(1, 400)] IReadOnlyList<TiedBars> Bars,
    [Description("The people who tied it."), Identity("person"), Entries(1, 40)] IReadOnlyList<string> Crew) : IFact
{
    public Subject About => Subject.Cage(Cage);

    public IEnumerable<Link> Links() =>
        Bars.SelectMany(b => b.Lots).Select(lot => Link.MadeFrom(About, lot.Subject))
            .Concat(Bars.Where(b => b.Rack is not null).Select(b => Link.MadeFrom(About, Subject.Storage(b.Rack!))))
            .Prepend(Link.MadeFrom(Subject.Unit(Unit), About));

    public IEnumerable<ShapeProblem> Check() =>
        Bars.Select((b, i) => (b, i)).Where(x => x.b.Lots.Count == 0 && x.b.Rack is null)
            .Select(x => new ShapeProblem($"data.bars[{x.i}].lots", "must name a lot, or rack must be given", "Read the tag, or name the rack the bars came from."));
}

/// <summary>A tied cage was checked against its drawing before it left the cage shop.</summary>
[Fact("cage.checked", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Summary = "A tied cage was checked against its drawing.")]
public sealed record CageChecked(
    [Identity("cage")] string Cage,
    [Entries(0, 400)] IReadOnlyList<CountedBars> Bars,
    [Description("As the drawing shows it.")] bool AsDrawn,
    [Longest(1000)] string? Remarks = null) : IFact
{
    public Subject About => Subject.Cage(Cage);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A cage was moved. One that was already inspected in its form must be inspected again.</summary>
[Fact("cage.moved", 1, Kind = FactKind.Reading, Role = Roles.CageCrew, Also = Roles.FormCrew, Summary = "A cage was moved.")]
public sealed record CageMoved([Identity("cage")] string Cage, [Longest(100)] string To) : IFact
{
    public Subject About => Subject.Cage(Cage);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A unit's cage was exchanged for another one; what the old one was made from is no longer in the unit.</summary>
[Fact("cage.swapped", 1, Kind = FactKind.Reading, Role = Roles.CageCrew, Also = Roles.FormCrew, Summary = "A unit's cage was exchanged for another one.")]
public sealed record CageSwapped(
    [Identity("unit")] string Unit,
    [Identity("cage")] string CageOut,
    [Identity("cage")] string CageIn,
    [Longest(500)] string Reason) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.MadeFrom(About, Subject.Cage(CageIn)), Link.About(Subject.Cage(CageOut))];

    public IEnumerable<ShapeProblem> Check() =>
        CageOut == CageIn ? [new("data.cageIn", "must be another cage than cageOut", "Name the cage that is in the form now.")] : [];
}
