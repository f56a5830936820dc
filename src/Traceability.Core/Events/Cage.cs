using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>Bars of one bar mark tied into the cage, with the lots (heats) they were taken from.</summary>
public sealed record TiedBars(string BarMark, string Size, int Count, IReadOnlyList<LotId> Lots);

/// <param name="Unit">The unit the cage is tied for; cages can be swapped later.</param>
/// <param name="Crew">Ids of the people who tied it.</param>
[Fact("cage.tied", 1, Role = Roles.CageCrew, Summary = "A reinforcement cage was tied from named lots.")]
public sealed record CageTied(string Cage, string Unit, string Drawing, string Revision, IReadOnlyList<TiedBars> Bars, IReadOnlyList<string> Crew) : IFact
{
    public Subject About => Subject.Cage(Cage);

    public IEnumerable<Link> Links() =>
        Bars.SelectMany(b => b.Lots).Select(lot => Link.MadeFrom(About, lot.Subject))
            .Prepend(Link.MadeFrom(Subject.Unit(Unit), About));

    public IEnumerable<ShapeProblem> Check() =>
        Shape.Id("data.cage", Cage, "cage").Concat(Shape.Id("data.unit", Unit, "unit")).Concat(Shape.Id("data.drawing", Drawing, "drawing"))
            .Concat(Shape.Text("data.revision", Revision, 20)).Concat(Shape.Some("data.bars", Bars, 400)).Concat(Shape.Some("data.crew", Crew, 40))
            .Concat(Bars.SelectMany((b, i) => Shape.Some($"data.bars[{i}].lots", b.Lots, 40).Concat(b.Lots.SelectMany((l, j) => l.Check($"data.bars[{i}].lots[{j}]")))));
}
