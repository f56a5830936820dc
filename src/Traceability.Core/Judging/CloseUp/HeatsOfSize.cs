using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// The heats a bar mark was tied from were delivered or certified in that bar size. Needs: cage tied, lot received or
/// certified. A heat is rolled into several sizes, so one that was also delivered in another size is no mistake.
/// </summary>
public sealed class HeatsOfSize : IRequirement
{
    private static readonly Citation Source = new("Heat, bundle tag, receiving record and bar mark agree", SourceMark.CommonPractice);

    public string Id => "close-up.heats-of-size";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Heats in the size of their bars";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.Cage is not { } cage)
        {
            yield return Evidence.Absent<CageTied>(this, matter, matter.File.Unit.Key, "No cage has been tied for this unit yet.", "The cage crew records the cage with its heats.", Source);
            yield break;
        }

        foreach (var finding in CageLots.Empty(this, matter, cage, Source)) yield return finding;
        foreach (var held in CageLots.Of(matter, cage))
        {
            var (lot, size) = (held.Lot, held.Size);
            var delivered = matter.File.Of<LotReceived>().Where(r => r.Fact.Lot == lot && r.Fact.Size is not null).Select(r => (r.Id, Size: r.Fact.Size!));
            var certified = matter.File.Of<LotCertified>().Where(c => c.Fact.Lot == lot && c.Fact.Size is not null).Select(c => (c.Id, Size: c.Fact.Size!));
            var known = delivered.Concat(certified).ToList();
            var sizes = string.Join(" and ", known.Select(k => k.Size).Distinct().Order(StringComparer.Ordinal));
            var (verdict, reason) = (known.Count, known.Exists(k => k.Size == size)) switch
            {
                (0, _) => (Verdict.Missing, $"Neither a delivery nor a certificate states the bar size of heat {lot.Number}."),
                (_, false) => (Verdict.NotMet, $"Bars {size} are tied from heat {lot.Number}, which came as {sizes}."),
                _ => (Verdict.Met, $"Heat {lot.Number} came as {sizes}."),
            };
            yield return Matter.Finding(this, $"{lot.Subject.Key} {size}", verdict, reason, Source) with
            {
                Limit = size,
                LimitConfirmed = true,
                Observed = sizes,
                Clear = verdict == Verdict.Met ? "" : "The crew reads the bundle tag again and corrects the cage's record; the inspector measures the bars.",
                Used = [.. held.Used, .. known.Select(k => k.Id)],
                SetAside = matter.Unused<LotReceived>(),
            };
        }
    }
}
