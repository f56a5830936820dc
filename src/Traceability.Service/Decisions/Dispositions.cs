using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Decisions;

/// <summary>
/// Disposition of a nonconformance by the quality engineer. Repair or use as is of a structural or major one needs the engineer of record's
/// letter first: attached to the nonconformance, or as the recorded approval.
/// </summary>
public sealed class Dispositions(DecisionRoom room)
{
    public Task<Decided> DisposeAsync(string? id, string? disposition, string? procedure, Letter? letter, string person, string? pin, CancellationToken cancel)
    {
        if (!Subject.IsId(id, "nonconformance")) return Task.FromResult(Decided.Wrong("nonconformance", "must be the id of a nonconformance", "The list of nonconformances names them."));
        if (!Enum.TryParse<DispositionKind>(disposition?.Replace("-", "", StringComparison.Ordinal), ignoreCase: true, out var kind) || int.TryParse(disposition, out _))
            return Task.FromResult(Decided.Wrong("disposition", "must be use-as-is, repair, rework or reject", "Say what becomes of it."));
        if (procedure?.Trim() is not { Length: > 0 and <= 500 } how) return Task.FromResult(Decided.Wrong("procedure", "must be a text of 1 to 500 characters", "Name the repair procedure, or the reason."));
        var subject = Subject.Nonconformance(id!);
        return room.SitAsync(person, pin, async sitting =>
        {
            var all = await Documents.AboutAsync<NonconformanceRaised>(sitting.Connection, sitting.Time, subject, cancel);
            if (all.LastOrDefault() is not { } raised)
                return Decided.Refused(404, "nonconformance-unknown", "No such nonconformance", $"nonconformance: '{id}' was not raised here.");
            if ((await Documents.AboutAsync<NonconformanceClosed>(sitting.Connection, sitting.Time, subject, cancel)).Count > 0)
                return Decided.Refused(409, "nonconformance-closed", "The nonconformance is closed", $"'{id}' was closed. Raise a new one.");
            if (letter is not null) await Documents.AttachAsync(sitting, subject, letter, cancel);
            else if (all.Any(r => r.NeedsEngineer()) && kind is DispositionKind.Repair or DispositionKind.UseAsIs && !await HasLetterAsync(sitting, subject, cancel))
                return Decided.Refused(409, "engineer-of-record", "The engineer of record's letter comes first", $"'{id}' is structural or major: {(kind == DispositionKind.Repair ? "a repair" : "use as is")} needs the letter of the engineer of record. Attach it, or send it as letter with this decision.");
            var basis = await sitting.RestOnAsync(await sitting.JudgeAsync(Subject.Unit(raised.Units[0]), cancel), cancel);
            var written = await sitting.WriteAsync(new NonconformanceDisposed(id!, kind, how, basis), cancel);
            return new(new { nonconformance = id, disposition = kind, record = written.RecordId, position = written.Position, basis = RestsOn.Of(basis) }, null);
        }, cancel);
    }

    private static async Task<bool> HasLetterAsync(Sitting sitting, Subject subject, CancellationToken cancel) =>
        (await Documents.AboutAsync<DocumentAttached>(sitting.Connection, sitting.Time, subject, cancel)).Count > 0
        || (await Documents.AboutAsync<NonconformanceApproved>(sitting.Connection, sitting.Time, subject, cancel)).Any(a => a.By == Approver.EngineerOfRecord);
}
