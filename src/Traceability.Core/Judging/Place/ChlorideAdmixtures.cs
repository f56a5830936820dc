using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// No admixture in the unit, bags added by hand with them, brings more chloride than the contract allows of an admixture, whatever the concrete as a whole may
/// hold: agencies ban accelerators with chloride outright. Needs: placement, batch ticket, lot certified. Of several lots a tank
/// may have held, the highest counts. Asked only where the profile has the limit.
/// </summary>
public sealed class ChlorideAdmixtures : IRequirement
{
    private const string Most = "chloride.admixture";

    private static readonly Citation Source = new("Agencies that ban admixtures with chloride", SourceMark.CommonPractice);

    public string Id => "place.chloride-admixtures";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Admixtures without chloride";
    public IReadOnlyList<string> Limits => [Most];

    public IEnumerable<Finding> Judge(Matter matter) => matter.Limit(Most) is not { } limit
        ? [Evidence.NotAsked(this, matter, matter.File.Unit.Key, Most, Source)]
        : Evidence.PerBatch(this, matter, Source, ticket => Ticket(matter, ticket, limit));

    private IEnumerable<Finding> Ticket(Matter matter, Entry<BatchTicketed> ticket, Limit limit)
    {
        var admixtures = ticket.Fact.Ingredients.Where(i => i.Material == Material.Admixture).Select(i => (i.Name, Lots: (IReadOnlyList<LotId>)ChlorideContent.Lots(matter, ticket, i)))
            .Concat((ticket.Fact.HandAdditions ?? []).Select(h => (h.Name, Lots: h.Lot is { } lot ? [lot] : (IReadOnlyList<LotId>)[])))
            .ToList();
        if (admixtures.Count == 0)
            yield return matter.Against(this, ticket.Fact.About.Key, limit, true, "The ticket shows no admixture.", "no admixture") with { Rounding = "", Used = [ticket.Id, matter.Profile!.Id] };
        foreach (var (name, lots) in admixtures) yield return Admixture(matter, ticket, limit, name, lots);
    }

    private Finding Admixture(Matter matter, Entry<BatchTicketed> ticket, Limit limit, string name, IReadOnlyList<LotId> lots)
    {
        var subject = $"{ticket.Fact.About.Key} {name}";
        var stated = lots.Select(l => matter.File.Of<LotCertified>().Where(c => c.Fact.Lot == l && c.Fact.ChloridePct is not null).ToList()).ToList();
        if (stated.Count == 0 || stated.Exists(c => c.Count == 0))
        {
            return Matter.Finding(this, subject, Verdict.Missing, $"{name}: no certificate states its chloride.", limit.Source) with
            {
                Limit = limit.Printed,
                LimitConfirmed = limit.ConfirmedBy is not null,
                Clear = "Receiving reads in the certificate that states it.",
                Used = [ticket.Id],
                SetAside = matter.Unused<LotCertified>(),
            };
        }

        var highest = stated.SelectMany(c => c).MaxBy(c => c.Fact.ChloridePct!.Value.Value)!;
        var pct = highest.Fact.ChloridePct!.Value;
        var met = matter.Rounded(pct.Value, limit) <= limit.Value.Value;
        return matter.Against(this, subject, limit, met, $"{name}: certificate {highest.Fact.CertificateNumber} states {pct.Text} % chloride.", pct.Text + " %") with
        {
            Clear = met ? "" : "The quality engineer decides on the batch and raises a nonconformance for the unit.",
            Used = [ticket.Id, .. stated.SelectMany(c => c).Select(c => c.Id), matter.Profile!.Id],
        };
    }
}
