using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Tying;

/// <summary>
/// Every heat in the cage has its mill's test report, and so has every one that may be in it through a rack. Needs: cage
/// tied, lot certified, storage filled.
/// </summary>
public sealed class HeatsCertified : IRequirement
{
    private static readonly Citation Source = new("ASTM A615/A615M", SourceMark.Memory, Clause: "test reports");

    public string Id => "tying.heats-certified";
    public HoldKind Hold => HoldKind.Tying;
    public string Title => "Every heat has its mill test report";
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
            var certificate = matter.File.Of<LotCertified>().LastOrDefault(c => c.Fact.Lot == lot);
            yield return certificate is null
                ? Matter.Finding(this, lot.Subject.Key, Verdict.Missing, $"Heat {lot.Number} of {lot.Producer} {held.In(cage.Fact.Cage)} and has no mill test report.", Source)
                    with { Clear = "Receiving reads in the certificate, or the bars are taken out before the pour.", Used = held.Used, SetAside = matter.Unused<LotCertified>() }
                : Matter.Finding(this, lot.Subject.Key, Verdict.Met, $"Heat {lot.Number}: certificate {certificate.Fact.CertificateNumber}.", Source)
                    with { Observed = $"{certificate.Fact.Specification} {certificate.Fact.Grade}", Used = [.. held.Used, certificate.Id] };
        }
    }
}
