using Traceability.Core.Events;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>Spacers, inserts and lifters are in place, as the inspector saw them. Needs: close-up inspection.</summary>
public sealed class InPlace : IRequirement
{
    public string Id => "close-up.in-place";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Spacers, inserts and lifters in place";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.Last<CloseUpInspected>() is not { } inspection)
        {
            yield return Evidence.NoCloseUp(this, matter);
            yield break;
        }

        foreach (var (what, seen) in new[] { ("spacers", inspection.Fact.SpacersInPlace), ("inserts", inspection.Fact.InsertsInPlace), ("lifters", inspection.Fact.LiftersInPlace) })
        {
            yield return Matter.Finding(this, $"{matter.File.Unit.Key} {what}", seen ? Verdict.Met : Verdict.NotMet,
                seen ? $"The inspector saw the {what} in place." : $"The inspector saw {what} missing or out of place.", Evidence.CloseUp) with
            {
                Limit = "in place as drawn",
                LimitConfirmed = true,
                Observed = seen ? "in place" : "not in place",
                Clear = seen ? "" : "The crew sets them and the inspector looks again before the form closes.",
                Used = [inspection.Id],
            };
        }
    }
}
