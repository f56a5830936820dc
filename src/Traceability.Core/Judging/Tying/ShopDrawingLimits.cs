using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Tying;

/// <summary>
/// An approved shop drawing is no looser than the limits of the contract: a looser figure does not become the limit, and
/// stays a finding until the drawing is corrected. Needs: profile, and the figures it was made from.
/// </summary>
public sealed class ShopDrawingLimits : IRequirement
{
    private static readonly Citation Source = new("Order of the contract's documents", SourceMark.CommonPractice);

    public string Id => "tying.shop-drawing-limits";
    public HoldKind Hold => HoldKind.Tying;
    public string Title => "Shop drawing as tight as the contract";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Profile is not { } profile)
        {
            yield return matter.NoLimit(this, unit, "");
            yield break;
        }

        var drawing = matter.File.Scheduled?.Fact.Drawing;
        var looser = (profile.Fact.Overruled ?? []).Where(o => o.Why == OverruledWhy.LooserShopDrawing && (o.Drawing is null || o.Drawing == drawing) && matter.Concerns(o.Stated.Key)).ToList();
        foreach (var stated in looser.Select(o => o.Stated))
        {
            yield return Matter.Finding(this, $"{unit} {stated.Key}", Verdict.NotMet, $"The shop drawing states \"{stated.Printed}\"; the contract is tighter and counts.", stated.Source) with
            {
                Limit = matter.Limit(stated.Key)?.Printed ?? "",
                Observed = stated.Printed,
                Clear = "The quality engineer has the drawing corrected; the unit is judged by the contract's limit.",
                Used = [profile.Id],
            };
        }

        if (looser.Count == 0) yield return Matter.Finding(this, unit, Verdict.Met, "No figure of a shop drawing in this profile is looser than the contract.", Source) with { Used = [profile.Id] };
    }
}
