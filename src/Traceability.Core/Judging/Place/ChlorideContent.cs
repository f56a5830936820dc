using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Chloride that the ingredients bring, in percent of cement or of cementitious materials by the edition of ACI 318 that the
/// profile chose. Needs: placement, batch ticket, lot certified, water tested. Every admixture has to state its chloride, other
/// ingredients and water count where theirs is stated; of several lots a tank may have held, the highest counts. Asked only
/// where the profile has the limit.
/// </summary>
public sealed class ChlorideContent : IRequirement
{
    private const string Most = "chloride.max";

    private static readonly Citation Source = new("ACI 318", SourceMark.Published, "318-19", "Table 19.3.2.1");

    public string Id => "place.chloride";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Chloride";
    public IReadOnlyList<string> Limits => [Most];

    public IEnumerable<Finding> Judge(Matter matter) => matter.Limit(Most) is not { } limit
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Most, Source)]
        : Evidence.PerBatch(this, matter, Source, ticket => [Ticket(matter, ticket, limit)]);

    private Finding Ticket(Matter matter, Entry<BatchTicketed> ticket, Limit limit)
    {
        var fact = ticket.Fact;
        var subject = fact.About.Key;
        decimal Mass(Material material) => fact.Ingredients.Where(i => i.Material == material).Sum(i => i.BatchedLb.Value);
        var onCement = matter.Edition("aci-318") == "14";
        var basis = Chloride.Basis(onCement ? ChlorideBasis.Cement : ChlorideBasis.Cementitious, Mass(Material.Cement), Mass(Material.SupplementaryCementitious));
        if (basis <= 0) return Incomplete(limit, subject, "The ticket shows no cement.", [ticket.Id]);

        var chloride = 0m;
        var used = new List<Guid> { ticket.Id, matter.Profile!.Id };
        foreach (var ingredient in fact.Ingredients)
        {
            var stated = Lots(matter, ticket, ingredient).Select(l => Stated(matter, l, used)).ToList();
            if (ingredient.Material == Material.Admixture && (stated.Count == 0 || stated.Contains(null)))
                return Incomplete(limit, subject, $"{ingredient.Name}: no certificate states its chloride.", [.. used]);
            chloride += ingredient.BatchedLb.Value * (stated.Max() ?? 0) / 100;
        }

        foreach (var addition in fact.HandAdditions ?? [])
        {
            if (addition.Lot is not { } lot || Stated(matter, lot, used) is not { } pct) return Incomplete(limit, subject, $"{addition.Name}, added by hand: no certificate states its chloride.", [.. used]);
            chloride += addition.AmountLb.Value * pct / 100;
        }

        // A later test can only have found the water of an earlier day out by chance: the last one up to the day counts.
        var water = fact.WaterStorage is null ? null : matter.File.Of<WaterTested>().Where(w => w.Fact.Storage == fact.WaterStorage && w.Fact.TestedOn <= fact.Batch.Date && w.Fact.ChloridePpm is not null).OrderBy(w => w.Fact.TestedOn).LastOrDefault();
        if (water is not null)
        {
            chloride += (fact.WaterBatchedLb.Value + FieldWater.Added(matter, ticket).Lb) * water.Fact.ChloridePpm!.Value.Value / 1_000_000;
            used.Add(water.Id);
        }

        var share = Chloride.Pct(chloride, basis);
        var met = matter.Rounded(share, limit) <= limit.Value.Value;
        var observed = $"{Matter.Text(decimal.Round(share, 4))} % of {(onCement ? "cement" : "cementitious materials")}";
        return matter.Against(this, subject, limit, met, $"{Matter.Text(decimal.Round(chloride, 3))} lb of chloride on {Matter.Text(basis)} lb: {observed}.", observed) with
        {
            Clear = met ? "" : "The quality engineer decides on the batch and raises a nonconformance for the unit.",
            Used = [.. used],
            SetAside = matter.Unused<LotCertified>(),
        };
    }

    /// <summary>The lot of an ingredient as the ticket names it, else every lot that can have been in its storage.</summary>
    internal static List<LotId> Lots(Matter matter, Entry<BatchTicketed> ticket, Weighed ingredient) =>
        ingredient.Lot is { } lot ? [lot] : ingredient.Storage is { } storage ? [.. matter.File.Contents(storage, ticket.At).Select(c => c.Fact.Lot).Distinct()] : [];

    private static decimal? Stated(Matter matter, LotId lot, List<Guid> used)
    {
        var certificates = matter.File.Of<LotCertified>().Where(c => c.Fact.Lot == lot && c.Fact.ChloridePct is not null).ToList();
        used.AddRange(certificates.Select(c => c.Id));
        return certificates.Select(c => (decimal?)c.Fact.ChloridePct!.Value.Value).Max();
    }

    private Finding Incomplete(Limit limit, string subject, string reason, IReadOnlyList<Guid> used) =>
        Matter.Finding(this, subject, Verdict.Missing, reason, limit.Source)
            with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null, Clear = "Receiving reads in the certificate that states it, or the batch operator corrects the ticket.", Used = used };
}
