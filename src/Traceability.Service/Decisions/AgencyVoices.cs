using Npgsql;
using Traceability.Core.Events;
using Traceability.Core.People;
using Traceability.Core.Records;
using Traceability.Service.People;

namespace Traceability.Service.Decisions;

/// <summary>Who may say, change or enter what an agency does: its inspectors by dated assignment, the plant only from its letter or telephone call.</summary>
internal static class AgencyVoices
{
    /// <summary>The assignments of a person that count, corrections applied.</summary>
    public static Task<IReadOnlyList<InspectorAssigned>> AssignmentsAsync(NpgsqlConnection connection, PlantTime time, string person, CancellationToken cancel) =>
        Documents.AboutAsync<InspectorAssigned>(connection, time, Subject.Person(person), cancel);

    /// <summary>Why a person does not speak for a unit's agency now; null when the person does.</summary>
    public static async Task<Decided?> RefuseAsync(Sitting sitting, string person, JudgedUnit unit, CancellationToken cancel)
    {
        var serial = unit.Dossier.Unit.Id;
        if (Agencies.Of(unit.File) is not { } agency)
            return Decided.Refused(409, "agency-unknown", "Nobody knows whose unit this is", $"data: unit '{serial}' is under no contract whose agency is recorded. The quality engineer opens the contract first.");
        var assignments = await AssignmentsAsync(sitting.Connection, sitting.Time, person, cancel);
        if (Agencies.IsInspector(assignments, person, agency, sitting.Day)) return null;
        var own = Agencies.Of(assignments, person, sitting.Day);
        return Decided.Refused(403, "other-agency", "Another agency's unit",
            $"Unit {serial} is of {agency}; {person} is today inspector of {(own.Count == 0 ? "no agency" : string.Join(", ", own))}. The quality engineer or the administrator enters the assignment.");
    }

    /// <summary>Whether the agency's inspector said it, so that the plant may not touch it.</summary>
    public static bool IsInspectors(IAgencyAct act, Record record, Register register, IReadOnlyList<InspectorAssigned> assignmentsOfAuthor) =>
        act.LetterSha256 is null && act is not AgencyHoldReleased { Telephone: not null }
        && (assignmentsOfAuthor.Count > 0 || (record.Person is { } author && register.Person(author)?.Roles.Contains(Roles.AgencyInspector) == true));

    /// <summary>
    /// Why a person may not correct or withdraw what an agency did, or what a correction of it may not say; null when it may be. The agency's own words are its inspectors'
    /// alone; what the plant entered from a letter or a call, the quality engineer fixes with a second person.
    /// </summary>
    /// <param name="replacement">The corrected content; null to withdraw.</param>
    public static async Task<Decided?> RefuseChangeAsync(Sitting sitting, Record record, IAgencyAct act, IAgencyAct? replacement, IReadOnlyCollection<string> roles, bool second, Register register, CancellationToken cancel)
    {
        var author = record.Person is { } by ? await AssignmentsAsync(sitting.Connection, sitting.Time, by, cancel) : [];
        var own = IsInspectors(act, record, register, author);
        if (!own && roles.Contains(Roles.QualityEngineer))
        {
            if (!second) return Decided.Refused(409, "second-approver", "A second person has to approve this", "This record was entered from the agency's letter or call. Send secondApprover, who is not of production, and secondPin.");
            if (replacement is not null && (replacement.LetterSha256 is null != act.LetterSha256 is null || (replacement as AgencyHoldReleased)?.Telephone is null != (act as AgencyHoldReleased)?.Telephone is null))
                return Decided.Wrong("data", "must stay what the agency's letter or call says", "Keep letterSha256 and telephone; withdraw the record where there was no letter or call.");
            return replacement?.LetterSha256 is { } hash && !await Letters.HasAsync(sitting.Connection, hash, cancel) ? Letters.Absent("data.letterSha256", hash) : null;
        }

        if (!roles.Contains(Roles.AgencyInspector))
            return Decided.Refused(403, "agencys-own", "The agency's inspector said it", $"{sitting.Person} is of the plant: what the agency's inspector said is corrected and withdrawn by that agency's inspectors alone. Ask the agency.");
        if (replacement is not null && (replacement.LetterSha256 != act.LetterSha256 || replacement is AgencyHoldReleased { Telephone: not null } != act is AgencyHoldReleased { Telephone: not null }))
            return Decided.Wrong("data", "must keep letterSha256 and telephone as they are", "Withdraw the record and make another.");
        foreach (var unit in act.Acted.Concat(replacement?.Acted ?? []).Distinct())
        {
            // The act belongs to the agency the unit was of then; an author whose word never counted may take it back.
            var then = await sitting.JudgeAsync(unit, cancel, record.Position);
            var judged = Agencies.Of(then.File) is null ? await sitting.JudgeAsync(unit, cancel) : then;
            var takesBack = replacement is null && record.Person == sitting.Person && Agencies.Of(judged.File) is { } agency && !Agencies.IsInspector(author, sitting.Person, agency, DateOnly.FromDateTime(record.OccurredAt.At.DateTime));
            if (!takesBack && await RefuseAsync(sitting, sitting.Person, judged, cancel) is { } refused) return refused;
        }

        return null;
    }
}
