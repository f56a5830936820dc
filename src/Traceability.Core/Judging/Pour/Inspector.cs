using Traceability.Core.Events;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// Who inspected before the pour was a certified plant inspector on that day and not of the crew that tied the cage. Needs:
/// pre-pour inspection, cage tied, person certified.
/// </summary>
public sealed class Inspector : IRequirement
{
    public string Id => "pour.inspector";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Inspector before the pour";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<PrePourInspected>() is not { } inspection)
        {
            yield return Evidence.NoPrePour(this, matter);
            yield break;
        }

        yield return Evidence.Certified(this, matter, $"{unit} certificate", inspection.Person, Certification.PlantInspector, inspection.At, inspection.Id, Evidence.PlantInspection);
        yield return Evidence.NotOfCrew(this, matter, $"{unit} crew", inspection.Person, inspection.Id);
    }
}
