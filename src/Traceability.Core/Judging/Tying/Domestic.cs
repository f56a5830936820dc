using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Tying;

/// <summary>
/// Steel of a federally obligated contract is melted and manufactured in the United States, as its certificates state.
/// Needs: contract, contract obligated, cage tied, lot certified. Judges the heats alone; the tally over the whole contract is not the plant's.
/// </summary>
public sealed class Domestic : IRequirement
{
    private const string Country = "US";

    private static readonly Citation Source = new("Build America, Buy America Act", SourceMark.Published, "Pub. L. 117-58", "70912(6)");

    public string Id => "tying.domestic";
    public HoldKind Hold => HoldKind.Tying;
    public string Title => "Steel melted and manufactured in the United States";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Assigned is null && matter.File.Scheduled is { Fact.StockProfile: not null } stock)
        {
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, "Cast to stock: whether domestic steel is asked is judged when the unit is given to a contract.", Source) with { Used = [stock.Id] };
            yield break;
        }

        if (matter.File.Contract is not { } contract)
        {
            yield return Matter.Finding(this, unit, Verdict.Missing, "The unit's contract is not recorded, so nobody can say whether domestic steel is asked.", Source)
                with { Clear = "The quality engineer records the contract.", SetAside = matter.Unused<ContractOpened>() };
            yield break;
        }

        // Any record of the contract that states an obligation asks for domestic steel: a second one cannot take it back.
        var obligated = matter.File.Of<ContractOpened>().Where(c => c.Fact.Contract == contract.Fact.Contract).Select(c => c.Fact.ObligatedOn)
            .Concat(matter.File.Of<ContractObligated>().Where(c => c.Fact.Contract == contract.Fact.Contract).Select(c => (DateOnly?)c.Fact.ObligatedOn)).FirstOrDefault(d => d is not null);
        if (obligated is null)
        {
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, $"Contract {contract.Fact.Contract} has no federal obligation.", Source) with { Used = [contract.Id] };
            yield break;
        }

        if (matter.File.Cage is not { } cage)
        {
            yield return Evidence.Absent<CageTied>(this, matter, unit, "No cage has been tied for this unit yet.", "The cage crew records the cage with its heats.", Source) with { Used = [contract.Id] };
            yield break;
        }

        foreach (var finding in CageLots.Empty(this, matter, cage, Source)) yield return finding with { Used = [contract.Id, .. finding.Used] };
        foreach (var held in CageLots.Of(matter, cage).DistinctBy(l => l.Lot))
        {
            var lot = held.Lot;
            var certificates = matter.File.Of<LotCertified>().Where(c => c.Fact.Lot == lot).ToList();
            var foreign = certificates.FirstOrDefault(c => IsForeign(c.Fact.MeltedIn) || IsForeign(c.Fact.ManufacturedIn));
            var silent = certificates.FirstOrDefault(c => c.Fact.MeltedIn is null || c.Fact.ManufacturedIn is null);
            var (verdict, reason) = (certificates.Count, foreign, silent) switch
            {
                (0, _, _) => (Verdict.Missing, $"Heat {lot.Number} has no certificate that states where it was melted and manufactured."),
                (_, { } f, _) => (held.Failed, $"Heat {lot.Number} {held.In(cage.Fact.Cage)}: melted in {Named(f.Fact.MeltedIn)}, manufactured in {Named(f.Fact.ManufacturedIn)}."),
                (_, _, { } s) => (Verdict.Missing, $"Certificate {s.Fact.CertificateNumber} of heat {lot.Number} does not state {(s.Fact.MeltedIn is null ? "where it was melted" : "where it was manufactured")}."),
                _ => (Verdict.Met, $"Heat {lot.Number} was melted and manufactured in the United States."),
            };
            yield return Matter.Finding(this, lot.Subject.Key, verdict, reason, Source) with
            {
                Limit = "all manufacturing processes, from the initial melting through the application of coatings, in the United States",
                LimitConfirmed = true,
                Observed = string.Join("; ", certificates.Select(c => $"melted in {Named(c.Fact.MeltedIn)}, manufactured in {Named(c.Fact.ManufacturedIn)}")),
                Clear = verdict == Verdict.Met ? "" : "Receiving reads in the mill's statement, or the bars are taken out; this cannot be overridden.",
                Used = [contract.Id, .. held.Used, .. certificates.Select(c => c.Id)],
                SetAside = matter.Unused<LotCertified>(),
            };
        }
    }

    private static string Named(string? country) => country is null ? "a country that is not stated" : Countries.Name(country);

    private static bool IsForeign(string? country) => country is not null && country != Country;
}
