using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Decisions;

/// <summary>The quality engineer quarantines and clears lots, allocates stock units and gives units another mark or contract.</summary>
public sealed class LotsAndMarks(DecisionRoom room)
{
    /// <summary>Quarantines a lot, or clears it on a document. Every release that rests on a quarantined lot expires.</summary>
    /// <param name="document">What it is cleared on; null to quarantine it.</param>
    public Task<Decided> LotAsync(LotId? lot, string? reason, string? document, bool clear, string person, string? pin, CancellationToken cancel)
    {
        if (lot is null || !Subject.IsId($"{lot.Producer}/{lot.Number}", "lot")) return Task.FromResult(Decided.Wrong("lot", "must name producer and number", "Heat numbers repeat across mills; name both."));
        if (reason?.Trim() is not { Length: > 0 and <= 500 } why) return Task.FromResult(Decided.Wrong("reason", "must be a text of 1 to 500 characters", "Say why."));
        if (clear && string.IsNullOrWhiteSpace(document)) return Task.FromResult(Decided.Wrong("document", "must be there to clear a lot", "Name what it is cleared on."));
        return room.SitAsync(person, pin, async sitting =>
        {
            var subject = Subject.Lot(lot.Producer, lot.Number);
            var held = (await Documents.AboutAsync<IFact>(sitting.Connection, sitting.Time, subject, cancel)).LastOrDefault(f => f is LotQuarantined or LotCleared) is LotQuarantined;
            if (held != clear) return Decided.Refused(409, "lot-state", clear ? "The lot is not quarantined" : "The lot is quarantined already", $"Lot {lot.Producer} {lot.Number} is {(held ? "quarantined" : "not quarantined")}.");
            var written = await sitting.WriteAsync(clear ? new LotCleared(lot, why, document!.Trim()) : new LotQuarantined(lot, why), cancel);
            return new(new { lot, quarantined = !clear, record = written.RecordId, position = written.Position }, null);
        }, cancel);
    }

    /// <summary>Gives a unit to a contract, or to another one; it is judged anew by that contract's profile and the answer says how it stands.</summary>
    /// <param name="reason">Why, for a unit that has a contract; a stock unit needs none.</param>
    public Task<Decided> MarkAsync(string? unit, string? contract, string? mark, string? reason, string person, string? pin, CancellationToken cancel)
    {
        if (!Subject.IsId(unit, "unit")) return Task.FromResult(Decided.Wrong("unit", "must be a unit's serial", "Use the serial as marked."));
        if (!Subject.IsId(contract, "contract")) return Task.FromResult(Decided.Wrong("contract", "must be the id of a contract", "Name the contract the unit goes to."));
        if (mark?.Trim() is not { Length: > 0 and <= 40 } marked) return Task.FromResult(Decided.Wrong("mark", "must be a text of 1 to 40 characters", "Name the mark under that contract."));
        return room.SitAsync(person, pin, async sitting =>
        {
            var before = await sitting.JudgeAsync(Subject.Unit(unit!), cancel);
            if (before.File.Scheduled is null) return Decided.Refused(404, "unit-unknown", "No such casting", $"unit: '{unit}' was not scheduled here.");
            if ((await Documents.AboutAsync<ContractOpened>(sitting.Connection, sitting.Time, Subject.Contract(contract!), cancel)).Count == 0)
                return Decided.Refused(404, "contract-unknown", "No such contract", $"contract: '{contract}' was not opened here. Open it first: it says which profile judges the unit.");
            var had = before.File.Assigned?.Contract;
            if (had is not null && reason?.Trim() is not { Length: > 0 and <= 500 }) return Decided.Wrong("reason", "must be a text of 1 to 500 characters for a unit that has a contract", $"The unit belongs to {had}; say why it goes elsewhere.");
            var written = await sitting.WriteAsync(had is null ? new UnitAllocated(unit!, contract!, marked, reason?.Trim()) : new UnitRemarked(unit!, contract!, marked, reason!.Trim()), cancel);
            var after = await sitting.JudgeAsync(Subject.Unit(unit!), cancel);
            return new(new
            {
                unit, contract, mark = marked, from = had, record = written.RecordId, position = written.Position, profile = after.Judgement.Profile, judgement = after.Judgement.Hash,
                holds = after.Judgement.Holds.Select(h => new { hold = h.Kind, state = h.State, openItems = h.OpenItems.Count }),
            }, null);
        }, cancel);
    }
}
