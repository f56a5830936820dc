using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>
/// Routine cores of the unit, as many as the contract asks, by the limits of cores. Needs: drawing, cores taken and broken,
/// instrument calibrated. Asked only where the profile has the limit.
/// </summary>
public sealed class UnitCores : IRequirement
{
    private const string Fewest = "core.per-unit";

    private static readonly Citation Source = new("AASHTO M 259", SourceMark.Published, "M 259-92", "5 and 10.3, cores of units");

    public string Id => "acceptance.unit-cores";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Cores of the unit";
    public IReadOnlyList<string> Limits => [Fewest, .. LowStrength.CoreLimits];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Fewest) is not { } fewest) return [Evidence.NotAsked(this, matter, unit, Fewest, Source)];
        if (!matter.File.Of<CoreTaken>().Any(c => c.Fact.ForSample is null && c.Fact.Unit == matter.File.Unit.Id))
            return [Evidence.AbsentWhereAsked<CoreTaken>(this, matter, unit, Fewest, "No routine core of the unit is recorded.", "The laboratory takes the cores and breaks them.", Source)];
        return
        [
            matter.File.Drawing is not { } drawing ? Evidence.NoDrawing(this, matter, fewest.Source)
                : LowStrength.Cores(this, matter, $"{unit} cores", Fewest, c => c.ForSample is null, "that the contract asks of every unit", drawing.Fact.DesignStrengthPsi.Value),
        ];
    }
}
