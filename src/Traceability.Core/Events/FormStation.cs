using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

[Fact("form.oiled", 1, Role = Roles.FormCrew, Summary = "A form was coated with release agent for a unit.")]
public sealed record FormOiled(string Form, string Unit, string ReleaseAgent) : IFact
{
    public Subject About => Subject.Unit(Unit);

    public IEnumerable<Link> Links() => [Link.JudgedBy(About, Subject.Form(Form))];

    public IEnumerable<ShapeProblem> Check() => Shape.Id("data.form", Form, "form").Concat(Shape.Id("data.unit", Unit, "unit"))
        .Concat(Shape.Text("data.releaseAgent", ReleaseAgent, 100));
}
