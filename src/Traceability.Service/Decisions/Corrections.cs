using System.Security.Claims;
using System.Text.Json;
using Microsoft.AspNetCore.Mvc;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Integrity;
using Traceability.Core.Records;
using Traceability.Service.People;

namespace Traceability.Service.Decisions;

/// <summary>A change of a record that is asked for.</summary>
/// <param name="Data">The whole corrected content; null to withdraw the record.</param>
/// <param name="Version">The version it replaces or withdraws, from 1.</param>
public sealed record ChangeRequest(Guid Record, int Version, string? Reason, string? Pin, JsonElement? Data = null, DateTimeOffset? OccurredAt = null, string? SecondApprover = null, string? SecondPin = null);

/// <summary>
/// Corrects and withdraws: the author while no decision rests on the record, else the quality engineer. Judged before and
/// after for each unit the record bears on, and written only where nothing came since that bears on one of them; a change that turns a finding for the better needs a second approver, unless the author fixes a
/// slip of the shift on which no decision rests.
/// </summary>
public sealed class Corrections(DecisionRoom room, Register register)
{
    public Task<Decided> ChangeAsync(ChangeRequest change, ClaimsPrincipal user, CancellationToken cancel)
    {
        if (change.Reason?.Trim() is not { Length: > 0 and <= 500 } reason) return Task.FromResult(Decided.Wrong("reason", "must be a text of 1 to 500 characters", "Say what was wrong with the record."));
        var person = user.PersonId();
        return room.SitAsync(person, change.Pin, async sitting =>
        {
            if (await Restatement.FindAsync(sitting.Connection, change.Record, cancel) is not { } record) return Unknown(change.Record);
            if (record.Fact is IDecision) return Decided.Refused(409, "is-decision", "A decision is not corrected", "Undo the release, or decide again.");
            if (record.Fact is RecordCorrected or RecordWithdrawn && change.Data is not null) return Decided.Refused(409, "is-correction", "A correction is not corrected", "Correct the record itself, naming its newest version, or withdraw this correction.");
            if (await BelowAsync(sitting.Connection, record, cancel) is { Fact: IAgencyAct act } acted)
            {
                var replacement = change.Data is { } corrected && FactCatalog.All.TryGetValue(acted.Type, out var type) ? FactCatalog.Read(type, corrected) as IAgencyAct : null;
                if (await AgencyVoices.RefuseChangeAsync(sitting, acted, act, replacement, [.. Roles(user)], change.SecondApprover is not null, register, cancel) is { } notTheirs) return notTheirs;
            }

            var units = await AffectedUnits.AboveAsync(sitting.Connection, [record.Position], Restatement.MostJudged + 1, cancel);
            if (record.Person == person && !WhoMay.To(Access.Correct).Allows(Roles(user), own: false) && await Restatement.RestingAsync(sitting, record, units, cancel) is { } rests)
                return Decided.Refused(409, "decision-rests", "A decision rests on this record", $"{rests}. The quality engineer corrects it now.");

            IFact fact = change.Data is { } data
                ? new RecordCorrected(change.Record, change.Version, record.Type, data, reason, change.OccurredAt, change.SecondApprover)
                : new RecordWithdrawn(change.Record, change.Version, reason, change.SecondApprover);
            var slip = await Restatement.IsSlipAsync(sitting, record, person, sitting.Now, cancel);
            var written = await sitting.WriteAsync(fact, cancel);
            var weighed = await Restatement.WeighAsync(sitting, record, cancel);
            if (weighed.NeedsSecond && change.SecondApprover is null && !slip)
                return Decided.Refused(409, "second-approver", "A second person has to approve this", weighed.Why + " Send secondApprover, who is not of production, and secondPin.", ("turns", weighed.Turns));
            if (weighed.NeedsSecond && !slip && await PartsInUnits.FirstAsync(sitting.Connection, await AffectedUnits.AboveAsync(sitting.Connection, [record.Position], WaitingRoom.MostAsked, cancel), change.SecondApprover!, cancel) is { } part) return new(null, PartsInUnits.Refusal(change.SecondApprover!, part));
            return new(new { record = change.Record, change = written.RecordId, position = written.Position, units = weighed.Units, turns = weighed.Turns }, null);
        }, cancel, change.SecondApprover is null ? null : new Approval(change.SecondApprover, change.SecondPin), rehearsed: true);
    }

    /// <summary>The refusal of somebody who is neither the author nor may change another's records; null for those.</summary>
    public async Task<ProblemDetails?> RefuseOthersAsync(NpgsqlDataSource source, Guid id, ClaimsPrincipal user, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        var record = await Restatement.FindAsync(connection, id, cancel);
        var author = record?.Person;
        var permission = WhoMay.To(Access.Correct);
        // An agency's inspectors fix each other's acts; whether it is their agency's is asked with the record at hand.
        if (user.IsInRole(Core.Events.Roles.AgencyInspector) && record is not null && await BelowAsync(connection, record, cancel) is { Fact: IAgencyAct }) return null;
        return permission.Allows(Roles(user), own: author == user.PersonId()) ? null : permission.Refusal(user);
    }

    /// <summary>The record at the bottom of a change, itself where it is none; null where the record below is not here.</summary>
    private static async Task<Record?> BelowAsync(NpgsqlConnection connection, Record record, CancellationToken cancel)
    {
        // Ids can be computed beforehand, so changes could name each other in a ring.
        Record? below = record;
        for (var steps = 0; steps < 8 && below is not null; steps++)
        {
            if ((below.Fact switch { RecordCorrected c => c.Record, RecordWithdrawn w => w.Record, _ => (Guid?)null }) is not { } target) return below;
            below = await Restatement.FindAsync(connection, target, cancel);
        }

        return null;
    }

    private static IEnumerable<string> Roles(ClaimsPrincipal user) => user.FindAll(ClaimTypes.Role).Select(r => r.Value);

    private static Decided Unknown(Guid id) => Decided.Refused(404, "record-unknown", "No such record", $"record: '{id}' was not recorded here. Take the id from the receipt or from the record's page.");
}
