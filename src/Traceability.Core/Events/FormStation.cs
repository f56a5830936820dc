using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

[Fact("form.oiled", 1, Role = Roles.FormCrew, Summary = "A form was coated with release agent for a unit.")]
public sealed record FormOiled([Identity("form")] string Form, [Identity("unit")] string Unit, [Longest(100)] string ReleaseAgent) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Form(Form))];
}
