using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// Every lot in the unit has its producer's certificate: the heats of the cage and the cementitious materials and admixtures
/// of every batch, or every lot that can have been in the silo or tank a ticket names. Needs: cage tied, placement, batch
/// ticket, storage filled, lot certified. Aggregates are tested, not certified.
/// </summary>
public sealed class LotsCertified : IRequirement
{
    private static readonly Citation Source = new("Certificates of materials in the delivery documents", SourceMark.CommonPractice);

    public string Id => "ship.lots-certified";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Every lot certified";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.Cage is not { } cage)
        {
            yield return Evidence.Absent<CageTied>(this, matter, $"{matter.File.Unit.Key} cage", "No cage is recorded for this unit.", "The cage crew records the cage with its heats.", Source);
        }
        else
        {
            foreach (var lot in cage.Fact.Bars.SelectMany(b => b.Lots).Distinct()) yield return Lot(matter, lot, cage.Id);
        }

        var seen = new HashSet<LotId>();
        foreach (var finding in Evidence.PerBatch(this, matter, Source, ticket => ticket.Fact.Ingredients
            .Where(i => i.Material is Material.Cement or Material.SupplementaryCementitious or Material.Admixture)
            .SelectMany(i => Ingredient(matter, ticket, i, seen))))
        {
            yield return finding;
        }
    }

    // Every lot that can have been in the silo or tank has to be certified: nobody can say which of them is in the unit.
    private IEnumerable<Finding> Ingredient(Matter matter, Entry<BatchTicketed> ticket, Weighed weighed, HashSet<LotId> seen)
    {
        List<LotId> lots = weighed.Lot is { } named ? [named] : weighed.Storage is { } storage ? [.. matter.File.Contents(storage, ticket.At).Select(f => f.Fact.Lot)] : [];
        if (lots.Count > 0) return lots.Where(seen.Add).Select(l => Lot(matter, l, ticket.Id));
        return
        [
            Matter.Finding(this, $"{ticket.Fact.About.Key} {weighed.Name}", Verdict.Missing,
                weighed.Storage is { } empty ? $"{weighed.Name}: no lot is recorded that can have been in {empty}." : $"{weighed.Name}: the ticket names no lot.", Source)
                with { Clear = weighed.Storage is null ? "The batch operator corrects the ticket." : "Receiving records what the storage was filled with.", Used = [ticket.Id] },
        ];
    }

    private Finding Lot(Matter matter, LotId lot, Guid madeInto)
    {
        var certificates = matter.File.Of<LotCertified>().Where(c => c.Fact.Lot == lot).ToList();
        var met = certificates.Count > 0;
        return Matter.Finding(this, lot.Subject.Key, met ? Verdict.Met : Verdict.Missing,
            met ? $"Certificate {string.Join(", ", certificates.Select(c => c.Fact.CertificateNumber))}." : $"Lot {lot.Number} of {lot.Producer} is in the unit without a certificate.", Source) with
        {
            Observed = string.Join("; ", certificates.Select(c => $"{c.Fact.Specification} {c.Fact.Grade}")),
            Clear = met ? "" : "Receiving reads in the certificate.",
            Used = [madeInto, .. certificates.Select(c => c.Id)],
            SetAside = matter.Unused<LotCertified>(),
        };
    }
}
