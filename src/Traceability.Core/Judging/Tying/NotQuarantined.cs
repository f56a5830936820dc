using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Tying;

/// <summary>
/// No heat in the cage is quarantined. Needs: cage tied, lot quarantined, lot cleared, storage filled. A quarantine that came
/// after the tying counts as well: the bars are in the cage. One that the clocks cannot order against its clearance stands.
/// </summary>
public sealed class NotQuarantined : IRequirement
{
    private static readonly Citation Source = new("Quarantined material is not used until it is cleared", SourceMark.CommonPractice);

    public string Id => "tying.not-quarantined";
    public HoldKind Hold => HoldKind.Tying;
    public string Title => "No quarantined heat";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.Cage is not { } cage)
        {
            yield return Evidence.Absent<CageTied>(this, matter, matter.File.Unit.Key, "No cage has been tied for this unit yet.", "The cage crew records the cage with its heats.", Source);
            yield break;
        }

        foreach (var finding in CageLots.Empty(this, matter, cage, Source)) yield return finding;
        foreach (var held in CageLots.Of(matter, cage).DistinctBy(l => l.Lot))
        {
            var lot = held.Lot;
            var quarantine = Standing(matter, lot);
            yield return Matter.Finding(this, lot.Subject.Key, quarantine is null ? Verdict.Met : held.Failed,
                quarantine is null ? $"Heat {lot.Number} is not quarantined." : $"Heat {lot.Number} {held.In(cage.Fact.Cage)} and is quarantined: {quarantine.Fact.Reason}", Source) with
            {
                Limit = "not quarantined",
                LimitConfirmed = true,
                Observed = quarantine is null ? "not quarantined" : "quarantined",
                Clear = quarantine is null ? "" : "The quality engineer clears the lot on a document, or the bars are taken out.",
                Used = quarantine is null ? held.Used : [.. held.Used, quarantine.Id],
                SetAside = matter.Unused<LotCleared>(),
            };
        }
    }

    /// <summary>The quarantine of a lot that no later clearance ended; null when there is none.</summary>
    internal static Entry<LotQuarantined>? Standing(Matter matter, LotId lot) =>
        matter.File.Of<LotQuarantined>().LastOrDefault(q => q.Fact.Lot == lot
            && !matter.File.Of<LotCleared>().Any(c => c.Fact.Lot == lot && q.At.Compare(c.At) == TimeOrder.Before));
}
