using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>The unit fits its mates: put together, with a gap inside the limit. Needs: a trial fit, which the profile may ask for. The last one with each mate counts.</summary>
public sealed class Fit : IRequirement
{
    private const string Asked = "asked.fit", Gap = "fit.gap";

    private static readonly Citation Source = new("Trial fit of mated units", SourceMark.CommonPractice);

    public string Id => "ship.fit";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Fit of mated units";
    public IReadOnlyList<string> Limits => [Asked, Gap];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Id;
        var fits = matter.File.Of<UnitFitted>().Where(f => f.Fact.Unit == unit || f.Fact.Mate == unit).GroupBy(f => f.Fact.Unit == unit ? f.Fact.Mate : f.Fact.Unit).OrderBy(g => g.Key, StringComparer.Ordinal).ToList();
        if (fits.Count == 0)
            yield return Evidence.AbsentWhereAsked<UnitFitted>(this, matter, matter.File.Unit.Key, Asked, "The unit was not fitted to a mate.", "The plant inspector puts it together with its mate.", Source);
        foreach (var mate in fits)
        {
            var last = mate.Last();
            var limit = matter.Limit(Gap);
            var subject = $"{matter.File.Unit.Key} to {mate.Key}";
            var met = last.Fact.Fits && (limit is null || last.Fact.GapIn.Value <= limit.Value.Value);
            yield return Matter.Finding(this, subject, met ? Verdict.Met : Verdict.NotMet,
                last.Fact.Fits ? $"Widest gap {last.Fact.GapIn.Text} in." : $"The inspector found that it does not fit; widest gap {last.Fact.GapIn.Text} in.", limit?.Source ?? Source) with
            {
                Limit = limit?.Printed ?? "fits as the inspector judges it",
                // Without a figure in the profile there is none to confirm: the inspector judges.
                LimitConfirmed = limit is null || limit.ConfirmedBy is not null,
                Observed = last.Fact.GapIn.Text + " in",
                Rounding = "compared as read",
                Clear = met ? "" : "The quality engineer raises a nonconformance for the pair.",
                Used = [last.Id],
                SetAside = [.. mate.SkipLast(1).Select(f => new UnusedEvidence(f.Id, "fitted again later"))],
            };
        }
    }
}
