using Traceability.Core.Events;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// Who inspected was a certified plant inspector on that day and not of the crew that tied the cage. Needs: close-up
/// inspection, cage tied, person certified.
/// </summary>
public sealed class Inspector : IRequirement
{
    public string Id => "close-up.inspector";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Close-up inspector";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<CloseUpInspected>() is not { } inspection)
        {
            yield return Evidence.NoCloseUp(this, matter);
            yield break;
        }

        yield return Evidence.Certified(this, matter, $"{unit} certificate", inspection.Person, Certification.PlantInspector, inspection.At, inspection.Id, Evidence.PlantInspection);
        yield return Evidence.NotOfCrew(this, matter, $"{unit} crew", inspection.Person, inspection.Id);
    }
}
