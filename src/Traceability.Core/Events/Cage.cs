using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>Bars of one bar mark tied into the cage, with the lots (heats) they were taken from.</summary>
public sealed record TiedBars(
    [Longest(40)] string BarMark,
    [Description("\"#4\" or the wire designation."), Longest(40)] string Size,
    [Between(1, 100_000)] int Count,
    [Entries(1, 40)] IReadOnlyList<LotId> Lots);

[Fact("cage.tied", 1, Role = Roles.CageCrew, Summary = "A reinforcement cage was tied from named lots.")]
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
            .Prepend(Link.MadeFrom(Subject.Unit(Unit), About));
}
