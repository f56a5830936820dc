using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.People;

namespace Traceability.Service.Decisions;

/// <summary>
/// What the agency does to a unit: present, witnessed, hold released, waived, stamped, rejected, accepted by letter. Signed by
/// its inspector with an own account, or recorded by the quality engineer with the agency's letter as a document.
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
        if (letter is null && !register.Person(person)!.Roles.Contains(Roles.AgencyInspector))
            return Task.FromResult(Decided.Wrong("letter", "must be there when the quality engineer records what the agency did", "Give title and SHA-256 of the agency's letter; its inspector signs without one."));
        return room.SitAsync(person, pin, async sitting =>
        {
            var fact = FactCatalog.Read(type, data);
            var units = fact switch { AgencyPresent p => p.Units, AgencyWaived w => w.Units, _ => [fact.About.Id] };
            foreach (var unit in units)
            {
                if (!(await sitting.JudgeAsync(Subject.Unit(unit), cancel)).IsKnown)
                    return Decided.Refused(404, "unit-unknown", "No record bears on this unit", $"data: '{unit}' is not a serial that any record names. Check the mark on the piece.");
            }

            foreach (var unit in letter is null ? [] : units) await Documents.AttachAsync(sitting, Subject.Unit(unit), letter!, cancel);
            var written = await sitting.WriteAsync(fact, cancel);
            return new(new { act, record = written.RecordId, position = written.Position, units, letter = letter?.Sha256 }, null);
        }, cancel);
    }
}
