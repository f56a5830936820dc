using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.People;

namespace Traceability.Service.Decisions;

/// <summary>
/// What the agency does to a unit: present, witnessed, hold released, waived, stamped, rejected, accepted by letter. Signed by
/// its inspector with an own account and an assignment of that day, or entered by the quality engineer from the agency's letter, whose bytes are kept
/// here, or from a telephone call where the profile allows it.
/// </summary>
public sealed class AgencyActs(DecisionRoom room, Register register)
{
    /// <summary>The acts, by the name of their fact.</summary>
    public static IReadOnlyDictionary<string, FactType> All { get; } = new[]
    {
        FactCatalog.Of<AgencyPresent>(), FactCatalog.Of<AgencyWitnessed>(), FactCatalog.Of<AgencyHoldReleased>(), FactCatalog.Of<AgencyWaived>(),
        FactCatalog.Of<UnitStamped>(), FactCatalog.Of<AgencyRejected>(), FactCatalog.Of<AgencyAccepted>(),
    }.ToDictionary(t => t.Name, StringComparer.Ordinal);

    /// <param name="act">Name of the fact, for example "agency.waived".</param>
    /// <param name="data">Its content.</param>
    /// <param name="letter">The agency's letter; asked of the quality engineer.</param>
    public Task<Decided> RecordAsync(string? act, JsonElement data, Letter? letter, string person, string? pin, CancellationToken cancel)
    {
        if (act is null || !All.TryGetValue(act, out var type)) return Task.FromResult(Decided.Wrong("act", "must be one of " + string.Join(", ", All.Keys), "Name what the agency did."));
        var inspector = register.Person(person)!.Roles.Contains(Roles.AgencyInspector);
        if (inspector && letter is not null) return Task.FromResult(Decided.Wrong("letter", "must be left out by the agency's inspector", "The inspector's own word needs no letter."));
        return room.SitAsync(person, pin, async sitting =>
        {
            var fact = (IAgencyAct)FactCatalog.Read(type, letter is null ? data : Naming(data, letter));
            var call = (fact as AgencyHoldReleased)?.Telephone;
            if (inspector && (fact.LetterSha256 is not null || call is not null)) return Decided.Wrong("data", "must name neither letter nor telephone call when the agency's inspector signs", "Leave letterSha256 and telephone out.");
            if (!inspector && letter is null && call is null)
                return Decided.Wrong("letter", "must be there when the quality engineer enters what the agency did", "Upload the agency's letter (POST /v1/documents) and give its title and SHA-256; its inspector signs without one.");
            if (letter is not null && call is not null) return Decided.Wrong("letter", "must be left out of a release by telephone", "Enter the letter as a record of its own: it confirms the call.");
            if (letter is not null && !await Letters.HasAsync(sitting.Connection, letter.Sha256, cancel)) return Letters.Absent("letter.sha256", letter.Sha256);
            var units = fact.Acted.ToList();
            foreach (var unit in units)
            {
                var judged = await sitting.JudgeAsync(unit, cancel);
                if (!judged.IsKnown)
                    return Decided.Refused(404, "unit-unknown", "No record bears on this unit", $"data: '{unit.Id}' is not a serial that any record names. Check the mark on the piece.");
                if (inspector && await AgencyVoices.RefuseAsync(sitting, person, judged, cancel) is { } others) return others;
                if (call is not null && await RefuseCallAsync(sitting, call, ((AgencyHoldReleased)fact).Hold, judged, cancel) is { } refused) return refused;
            }

            if (letter is not null)
            {
                foreach (var unit in units) await Documents.AttachAsync(sitting, unit, letter, cancel);
            }

            var written = await sitting.WriteAsync(fact, cancel);
            return new(new { act, record = written.RecordId, position = written.Position, units = units.Select(u => u.Id), letter = letter?.Sha256 }, null);
        }, cancel, rehearsed: true);
    }

    // The entry itself names the letter, so that a record says what it rests on.
    private static JsonElement Naming(JsonElement data, Letter letter)
    {
        if (data.ValueKind != JsonValueKind.Object) return data;
        var named = JsonObject.Create(data)!;
        named["letterSha256"] = letter.Sha256;
        return JsonSerializer.SerializeToElement(named);
    }

    private static async Task<Decided?> RefuseCallAsync(Sitting sitting, ByTelephone call, HoldKind hold, JudgedUnit unit, CancellationToken cancel)
    {
        if (unit.Rule(hold) is not { Authority: HoldAuthority.AgencyHold, TelephoneHours: not null })
            return Decided.Refused(409, "no-telephone", "No release by telephone here", $"data.telephone: the profile of unit {unit.Dossier.Unit.Id} allows no release of this hold by telephone. The agency's inspector signs, or its letter is entered.");
        if (call.SaidAt > sitting.Now) return Decided.Wrong("data.telephone.saidAt", "must not be in the future", "Enter when it was said.");
        return await AgencyVoices.RefuseAsync(sitting, call.Speaker, unit, cancel);
    }
}
