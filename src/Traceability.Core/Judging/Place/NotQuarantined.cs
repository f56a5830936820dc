using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// No ingredient of a batch in the unit is of a quarantined lot. Needs: placement, batch ticket, lot quarantined, storage filled. A lot that
/// only may have been in the silo leaves a question.
/// </summary>
public sealed class NotQuarantined : IRequirement
{
    private static readonly Citation Source = new("Quarantined material is not used until it is cleared", SourceMark.CommonPractice);

    public string Id => "place.not-quarantined";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "No quarantined ingredient";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) => Evidence.PerBatch(this, matter, Source, ticket =>
    {
        var subject = ticket.Fact.About.Key;
        var named = ticket.Fact.Ingredients.Select(i => i.Lot).Concat((ticket.Fact.HandAdditions ?? []).Select(h => h.Lot)).OfType<LotId>().ToHashSet();
        var possible = ticket.Fact.Ingredients.Where(i => i.Lot is null && i.Storage is not null).SelectMany(i => matter.File.Contents(i.Storage!, ticket.At)).Select(c => c.Fact.Lot).Where(l => !named.Contains(l)).ToHashSet();
        var held = named.Select(l => (Lot: l, Certain: true)).Concat(possible.Select(l => (Lot: l, Certain: false)))
            .Select(l => (l.Lot, l.Certain, Quarantine: Tying.NotQuarantined.Standing(matter, l.Lot))).Where(l => l.Quarantine is not null)
            .Select(l => Matter.Finding(this, $"{subject} {l.Lot.Subject.Key}", l.Certain ? Verdict.NotMet : Verdict.CannotTell,
                $"Lot {l.Lot.Number} of {l.Lot.Producer} {(l.Certain ? "is" : "may be")} in batch {ticket.Fact.Batch.Ticket} and is quarantined: {l.Quarantine!.Fact.Reason}", Source) with
            {
                Limit = "not quarantined",
                LimitConfirmed = true,
                Observed = "quarantined",
                Clear = "The quality engineer clears the lot on a document, or decides on the unit.",
                Used = [ticket.Id, l.Quarantine.Id],
                SetAside = matter.Unused<LotCleared>(),
            }).ToList();
        return held.Count > 0 ? held : [Matter.Finding(this, subject, Verdict.Met, "No lot of this batch is quarantined.", Source) with { Used = [ticket.Id], SetAside = matter.Unused<LotCleared>() }];
    });
}
