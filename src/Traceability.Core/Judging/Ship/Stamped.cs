using Traceability.Core.Events;
using Traceability.Core.Judging.Holds;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>The agency stamped the unit, where the profile asks for its stamp. Needs: the stamp, under the contract the unit
/// has now. The plant cannot give it.</summary>
public sealed class Stamped : IRequirement
{
    private const string Asked = "asked.stamp";

    private static readonly Citation Source = new("Missouri Engineering Policy Guide", SourceMark.Published, Clause: "1049, accepted units stamped");

    public string Id => "ship.stamped";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Stamped by the agency";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        var stamps = OfContract.Now<UnitStamped>(matter.File).ToList();
        yield return stamps.Count == 0
            ? Evidence.AbsentWhereAsked<UnitStamped>(this, matter, unit, Asked, "The agency has not stamped the unit.", "The agency's inspector stamps it, or the quality engineer records its letter.", Source)
            : Matter.Finding(this, unit, Verdict.Met, $"Stamp {string.Join(", ", stamps.Select(s => s.Fact.Stamp))}.", matter.Limit(Asked)?.Source ?? Source) with { Observed = stamps[^1].Fact.Stamp, Used = [.. stamps.Select(s => s.Id)] };
    }
}
