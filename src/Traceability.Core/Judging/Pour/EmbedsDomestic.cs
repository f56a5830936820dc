using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// Every embedded steel item of a federally obligated contract has a lot with a domestic statement. Needs: contract, drawing,
/// inserts fixed, lot certified. Asked only where the profile asks it: which embeds are steel the drawing's record does not say,
/// so all that it names are asked for.
/// </summary>
public sealed class EmbedsDomestic : IRequirement
{
    private const string Asked = "embeds.domestic";

    private static readonly Citation Source = new("Build America, Buy America Act", SourceMark.Published, "Pub. L. 117-58", "70912(6)");

    public string Id => "pour.embeds-domestic";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Embedded steel with its domestic statement";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Asked) is not { Value.Value: > 0 } asked) return [Evidence.NotAsked(this, matter, unit, Asked, Source)];
        if (matter.File.Contract is not { } contract)
            return [Matter.Finding(this, unit, Verdict.Missing, "The unit's contract is not recorded.", Source) with { Clear = "The quality engineer records the contract.", SetAside = matter.Unused<ContractOpened>() }];
        var obligated = matter.File.Of<ContractOpened>().Any(c => c.Fact.Contract == contract.Fact.Contract && c.Fact.ObligatedOn is not null)
            || matter.File.Of<ContractObligated>().Any(c => c.Fact.Contract == contract.Fact.Contract);
        if (!obligated) return [Matter.Finding(this, unit, Verdict.NotApplicable, $"Contract {contract.Fact.Contract} has no federal obligation.", Source) with { Used = [contract.Id] }];
        if (matter.File.Drawing is not { } drawing) return [Evidence.NoDrawing(this, matter, Source) with { Used = [contract.Id] }];

        var names = drawing.Fact.Embeds.Select(e => e.Item).Distinct(StringComparer.Ordinal).ToList();
        if (names.Count == 0) return [Matter.Finding(this, unit, Verdict.NotApplicable, "The drawing shows no embeds.", Evidence.Of(drawing)) with { Used = [drawing.Id] }];
        return names.SelectMany(name =>
        {
            var fixedIn = matter.File.Of<InsertsFixed>().Where(i => Subject.Unit(i.Fact.Unit) == matter.File.Unit).SelectMany(i => i.Fact.Items.Where(x => x.Item == name).Select(x => (i.Id, x.Lot))).ToList();
            if (fixedIn.Count == 0)
                return [Evidence.Absent<InsertsFixed>(this, matter, $"{unit} {name}", $"{name}: no lot of it is recorded in this unit.", "The form crew records which lots were fixed.", asked.Source) with { Used = [contract.Id, drawing.Id] }];
            return fixedIn.Select(item => Item(matter, $"{unit} {name}", name, item.Id, item.Lot, asked));
        });
    }

    private Finding Item(Matter matter, string subject, string name, Guid record, LotId? lot, Limit asked)
    {
        var certificates = matter.File.Of<LotCertified>().Where(c => c.Fact.Lot == lot).ToList();
        var (verdict, reason) = (lot, certificates) switch
        {
            (null, _) => (Verdict.Missing, $"{name}: its lot is not recorded."),
            ({ } l, []) => (Verdict.Missing, $"{name}: lot {l.Number} has no domestic statement."),
            ({ } l, var all) when all.Exists(c => c.Fact.MeltedIn is not null and not "US" || c.Fact.ManufacturedIn is not null and not "US") => (Verdict.NotMet, $"{name}: lot {l.Number} is not of the United States by its certificate."),
            ({ } l, var all) when all.Exists(c => c.Fact.MeltedIn is null || c.Fact.ManufacturedIn is null) => (Verdict.Missing, $"{name}: the certificate of lot {l.Number} does not state where it was melted and manufactured."),
            ({ } l, _) => (Verdict.Met, $"{name}: lot {l.Number} was melted and manufactured in the United States."),
        };
        return Matter.Finding(this, lot is null ? subject : $"{subject} {lot.Subject.Key}", verdict, reason, asked.Source) with
        {
            Limit = asked.Printed,
            LimitConfirmed = asked.ConfirmedBy is not null,
            Clear = verdict == Verdict.Met ? "" : "Receiving reads in the statement, or the item is taken out; this cannot be overridden.",
            Used = [record, matter.Profile!.Id, .. certificates.Select(c => c.Id)],
            SetAside = matter.Unused<LotCertified>(),
        };
    }
}
