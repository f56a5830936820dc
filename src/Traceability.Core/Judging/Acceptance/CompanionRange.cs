using Traceability.Core.Concrete;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>
/// Companion cylinders of an acceptance test lie as near each other as the method's precision expects. Far apart says something
/// of the test and nothing of the concrete: provisional, never not met. Needs: sample tested, cylinders broken.
/// </summary>
public sealed class CompanionRange : IRequirement
{
    private static readonly Citation Source = new("ASTM C39/C39M", SourceMark.Memory, Clause: "precision, acceptable range of companions made in the field");

    public string Id => "acceptance.companions";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Range of companion cylinders";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var any = false;
        foreach (var set in matter.File.Breaks(CylinderPurpose.Acceptance).GroupBy(b => b.Sample.Id))
        {
            any = true;
            var sample = set.First().Sample;
            var psi = set.Where(b => Strength.MeanDiameterIn(b.Break.Fact.Diameter1In.Value, b.Break.Fact.Diameter2In.Value, matter.Rounding) > 0)
                .Select(b => Strength.Psi(b.Break.Fact.LoadLbf.Value, b.Break.Fact.Diameter1In.Value, b.Break.Fact.Diameter2In.Value, b.Break.Fact.LengthIn.Value, matter.Rounding)).OfType<decimal>().ToList();
            var sizes = set.Select(b => b.Cylinder.Size).Distinct(StringComparer.Ordinal).ToList();
            var acceptable = sizes.Count == 1 ? Strength.AcceptableRangePct(sizes[0], madeInField: true, psi.Count) : null;
            var range = psi.Count > 1 && psi.Average() > 0 ? Strength.RangePct(psi) : (decimal?)null;
            var verdict = acceptable is null || range is null ? Verdict.NotApplicable : range <= acceptable ? Verdict.Met : Verdict.Provisional;
            var words = range is { } r ? $"{Matter.Text(decimal.Round(r, 1))} % of the mean" : "";
            yield return Matter.Finding(this, $"{sample.Fact.About.Key} companions", verdict, verdict switch
            {
                Verdict.NotApplicable => psi.Count < 2 ? "Fewer than two companions are broken." : $"The method states no range for {psi.Count} cylinders of {string.Join(" and ", sizes)} in made in the field.",
                Verdict.Met => $"Range {words}.",
                _ => $"Range {words}, more than expected: look at the test, the concrete is judged by its mean.",
            }, Source) with
            {
                Limit = acceptable is { } a ? $"at most {Matter.Text(a)} % of the mean" : "",
                LimitConfirmed = true,
                Observed = words,
                Rounding = "compared as calculated",
                Clear = verdict == Verdict.Provisional ? "The laboratory looks at caps, ends and machine." : "",
                Used = [sample.Id, .. set.Select(b => b.Break.Id)],
            };
        }

        if (!any) yield return Matter.Finding(this, matter.File.Unit.Key, Verdict.NotApplicable, "No acceptance cylinders of this unit are broken.", Source);
    }
}
