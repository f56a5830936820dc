using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>Who tested the fresh concrete was a certified field testing technician on that day. Needs: sample tested, person certified.</summary>
public sealed class Tester : IRequirement
{
    private static readonly Citation Source = new("Certified field testing technician, Grade I, five years", SourceMark.Published, Clause: "certification programme of the American Concrete Institute");

    public string Id => "place.tester";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Technician who tested the fresh concrete";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerSample(this, matter, Source, sample =>
        [Evidence.Certified(this, matter, sample.Fact.About.Key, sample.Person, Certification.FieldTestingTechnician, sample.At, sample.Id, Source)]);
}
