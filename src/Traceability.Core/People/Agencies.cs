using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.People;

/// <summary>Which agency a unit belongs to, and who speaks for an agency. Pure. An agency is its name, as contracts write it.</summary>
public static class Agencies
{
    /// <summary>
    /// The agency a unit belongs to as its records say: its contract's, or of stock the one whose profile it is cast to. Null
    /// where that is not recorded; a dossier as known at a moment gives the agency of that moment.
    /// </summary>
    public static string? Of(UnitFile file) => file.Assigned is null ? file.Profile?.Fact.Agency : file.Contract?.Fact.Agency;

    /// <summary>The agencies whose inspector a person is on a day; both days of an assignment are included.</summary>
    public static IReadOnlyList<string> Of(IEnumerable<InspectorAssigned> assignments, string person, DateOnly day) =>
        [.. assignments.Where(a => a.Person == person && a.From <= day && (a.Through is not { } through || day <= through)).Select(a => a.Agency).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal)];

    /// <summary>Whether a person is an agency's inspector on a day.</summary>
    public static bool IsInspector(IEnumerable<InspectorAssigned> assignments, string person, string agency, DateOnly day) =>
        Of(assignments, person, day).Contains(agency, StringComparer.Ordinal);

    /// <summary>
    /// Why something said for the agency does not count for a unit: its speaker is assigned, and not by this unit's agency on that day. Null when it may count. What was
    /// entered from a letter is the letter's. Of a person without any assignment on record nothing is known: the service takes in no act
    /// of such a person, and what it took in before assignments were recorded stands.
    /// </summary>
    public static string? NotHeard(UnitFile file, Entry act)
    {
        if (act.Fact is not IAgencyAct { LetterSha256: null } said) return null;
        var speaker = said is AgencyHoldReleased { Telephone: { } call } ? call.Speaker : act.Person;
        var assignments = file.Of<InspectorAssigned>().Select(a => a.Fact).ToList();
        if (speaker is null || !assignments.Exists(a => a.Person == speaker)) return null;
        var day = DateOnly.FromDateTime(act.At.At.DateTime);
        var agency = Of(file);
        return agency is not null && IsInspector(assignments, speaker, agency, day) ? null
            : $"{speaker} was not an inspector of {agency ?? "the agency of this unit, which is not recorded,"} on {day:yyyy-MM-dd}";
    }
}
