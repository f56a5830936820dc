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
/// after inside the transaction for each unit the record bears on; a change that turns "not met" into "met" needs a second approver.
/// </summary>
public sealed class Corrections(DecisionRoom room, Register register)
{
    /// <summary>Units judged before and after; a record that bears on more always needs a second approver. Our own choice: it bounds the time the recorder waits.</summary>
    private const int MostJudged = 100;

    public Task<Decided> ChangeAsync(ChangeRequest change, ClaimsPrincipal user, CancellationToken cancel)
    {
        if (change.Reason?.Trim() is not { Length: > 0 and <= 500 } reason) return Task.FromResult(Decided.Wrong("reason", "must be a text of 1 to 500 characters", "Say what was wrong with the record."));
        var person = user.PersonId();
        return room.SitAsync(person, change.Pin, async sitting =>
        {
            if (await FindAsync(sitting.Connection, change.Record, cancel) is not { } record) return Unknown(change.Record);
            if (record.Fact is IDecision) return Decided.Refused(409, "is-decision", "A decision is not corrected", "Undo the release, or decide again.");
            if (record.Fact is RecordCorrected or RecordWithdrawn && change.Data is not null) return Decided.Refused(409, "is-correction", "A correction is not corrected", "Correct the record itself, naming its newest version, or withdraw this correction.");
            if (await BelowAsync(sitting.Connection, record, cancel) is { Fact: IAgencyAct act } acted)
            {
                var replacement = change.Data is { } corrected && FactCatalog.All.TryGetValue(acted.Type, out var type) ? FactCatalog.Read(type, corrected) as IAgencyAct : null;
                if (await AgencyVoices.RefuseChangeAsync(sitting, acted, act, replacement, [.. Roles(user)], change.SecondApprover is not null, register, cancel) is { } notTheirs) return notTheirs;
            }

            var units = await AffectedUnits.AboveAsync(sitting.Connection, [record.Position], MostJudged + 1, cancel);
            if (record.Person == person && !WhoMay.To(Access.Correct).Allows(Roles(user), own: false) && await RestingAsync(sitting, record, units, cancel) is { } rests)
                return Decided.Refused(409, "decision-rests", "A decision rests on this record", $"Record {change.Record}: {rests}. The quality engineer corrects it now.");

            IFact fact = change.Data is { } data
                ? new RecordCorrected(change.Record, change.Version, record.Type, data, reason, change.OccurredAt, change.SecondApprover)
                : new RecordWithdrawn(change.Record, change.Version, reason, change.SecondApprover);
            var before = await sitting.NewestAsync(cancel);
            var written = await sitting.WriteAsync(fact, cancel);
            units = await AffectedUnits.AboveAsync(sitting.Connection, [record.Position, written.Position!.Value], MostJudged + 1, cancel);
            var turned = new List<Turned>();
            if (units.Count <= MostJudged)
            {
                foreach (var unit in units) turned.AddRange(Turned.Between((await sitting.JudgeAsync(unit, cancel, before)).Judgement, (await sitting.JudgeAsync(unit, cancel)).Judgement));
            }

            if ((turned.Count > 0 || units.Count > MostJudged || IsBadNews(record.Fact)) && change.SecondApprover is null)
                return Decided.Refused(409, "second-approver", "A second person has to approve this",
                    (units.Count > MostJudged ? $"This record bears on more than {MostJudged} units."
                        : turned.Count > 0 ? $"This takes away what is not met: {string.Join("; ", turned.Take(5).Select(t => $"{t.Requirement} of {t.Subject}"))}."
                        : $"This record reports bad news ({record.Type}).")
                    + " Send secondApprover, who is not of production, and secondPin.", ("turns", turned));
            return new(new { record = change.Record, change = written.RecordId, position = written.Position, units = units.Count, turns = turned }, null);
        }, cancel, change.SecondApprover is null ? null : new Approval(change.SecondApprover, change.SecondPin));
    }

    /// <summary>The refusal of somebody who is neither the author nor may change another's records; null for those.</summary>
    public async Task<ProblemDetails?> RefuseOthersAsync(NpgsqlDataSource source, Guid id, ClaimsPrincipal user, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        var record = await FindAsync(connection, id, cancel);
        var author = record?.Person;
        var permission = WhoMay.To(Access.Correct);
        // An agency's inspectors mend each other's acts; whether it is their agency's is asked with the record at hand.
        if (user.IsInRole(Core.Events.Roles.AgencyInspector) && record is not null && await BelowAsync(connection, record, cancel) is { Fact: IAgencyAct }) return null;
        return permission.Allows(Roles(user), own: author == user.PersonId()) ? null : permission.Refusal(user);
    }

    // Without these a unit may stand better although no finding of its own was not met.
    private static bool IsBadNews(IFact? fact) => fact is NonconformanceRaised or UnitDamaged or UnitRejected or AgencyRejected or LotQuarantined or LoadRejected
        or ExceptionNoted or InstrumentFoundOut or DisplacementSeen or DrawingSuperseded or WeatherRead { RainedIn: true };

    // A decision rests on every record that its judgement was made from; what was certified to somebody outside rests on all before it.
    private static async Task<string?> RestingAsync(Sitting sitting, Record record, IReadOnlyList<Subject> units, CancellationToken cancel)
    {
        foreach (var unit in units)
        {
            var file = Assemble.Unit(await Linking.DossierStore.LoadAsync(sitting.Connection, unit, null, cancel));
            if (file.Entries.FirstOrDefault(e => (e.Fact as IRelease)?.Basis.Position >= record.Position || (e.Fact as HoldOverridden)?.Basis.Position >= record.Position
                || (e.Fact as NonconformanceDisposed)?.Basis?.Position >= record.Position
                || (e.Fact is RecordPacketIssued or SupplementIssued or LoadCertificateIssued && e.Source.Position >= record.Position)) is { } decision)
                return $"decision {decision.Source.Id} on unit {unit.Id} was taken on it";
        }

        return null;
    }

    /// <summary>The record at the bottom of a change, itself where it is none; null where the record below is not here.</summary>
    private static async Task<Record?> BelowAsync(NpgsqlConnection connection, Record record, CancellationToken cancel)
    {
        // Ids can be computed beforehand, so changes could name each other in a ring.
        Record? below = record;
        for (var steps = 0; steps < 8 && below is not null; steps++)
        {
            if ((below.Fact switch { RecordCorrected c => c.Record, RecordWithdrawn w => w.Record, _ => (Guid?)null }) is not { } target) return below;
            below = await FindAsync(connection, target, cancel);
        }

        return null;
    }

    private static async Task<Record?> FindAsync(NpgsqlConnection connection, Guid id, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("select position, bytes from trace.record where id = $1", connection) { Parameters = { new() { Value = id } } };
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? Record.Read(row.GetFieldValue<byte[]>(1), row.GetInt64(0)) : null;
    }

    private static IEnumerable<string> Roles(ClaimsPrincipal user) => user.FindAll(ClaimTypes.Role).Select(r => r.Value);

    private static Decided Unknown(Guid id) => Decided.Refused(404, "record-unknown", "No such record", $"record: '{id}' was not recorded here. Take the id from the receipt or from the record's page.");
}
