using Traceability.Core.Events;
using Traceability.Core.Judging.Holds;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// The last look on the truck: secured, sound, marked. Needs: the inspection at load-out, which the profile may ask for; the
/// last one counts, and none from before the unit came back. Nobody stands under a load; rigging and securing follow local codes.
/// </summary>
public sealed class LoadOut : IRequirement
{
    private const string Asked = "asked.load-out";

    private static readonly Citation Source = new("Inspection at load-out", SourceMark.CommonPractice);

    public string Id => "ship.load-out";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Condition at load-out";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (Steps.OfThisShipment<LoadOutInspected>(matter.File).LastOrDefault() is not { } look)
        {
            yield return Evidence.AbsentWhereAsked<LoadOutInspected>(this, matter, unit, Asked, "The unit was not inspected on the truck.", "The plant inspector looks at it on the truck before it leaves.", Source);
            yield break;
        }

        string[] faults = [.. look.Fact.Secured ? [] : new[] { "not secured as the load plan shows" }, .. look.Fact.Sound ? [] : new[] { "newly damaged" }, .. look.Fact.Marked ? [] : new[] { "marking not legible" }];
        yield return Matter.Finding(this, unit, faults.Length == 0 ? Verdict.Met : Verdict.NotMet, faults.Length == 0 ? $"Secured, sound and marked on truck {look.Fact.Truck}." : Evidence.Sentence(string.Join(", ", faults)), Source)
            with { Observed = look.Fact.Truck, Clear = faults.Length == 0 ? "" : "The truck stays until the inspector has looked again.", Used = [look.Id] };
    }
}
