using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>The strip of the unit is recorded: without it nobody knows how and when it was lifted. Needs: unit stripped.</summary>
public sealed class Stripped : IRequirement
{
    private static readonly Citation Source = new("Strip recorded before shipping", SourceMark.CommonPractice);

    public string Id => "ship.stripped";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Strip recorded";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        yield return matter.File.Of<UnitStripped>().FirstOrDefault() is { } stripped
            ? Matter.Finding(this, unit, Verdict.Met, $"Lifted with {stripped.Fact.Gear} on {stripped.At.At:yyyy-MM-dd}.", Source) with { Observed = stripped.Fact.Gear, Used = [stripped.Id] }
            : Evidence.Absent<UnitStripped>(this, matter, unit, "The strip of this unit is not recorded.", "The yard records it.", Source);
    }
}
