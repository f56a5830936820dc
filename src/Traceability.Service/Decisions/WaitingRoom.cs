using Microsoft.AspNetCore.Mvc;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Integrity;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Recording;

namespace Traceability.Service.Decisions;

/// <summary>
/// What waits for a person before it counts: claims (acts sent in a person's name without proof), which that person confirms, and restatements that open
/// something, which a second person approves. Refused, they stay kept and never count.
/// </summary>
public sealed class WaitingRoom(Recorder recorder, Rehearsal rehearsal, NpgsqlDataSource source, Signing signing, Register register, TimeProvider clock, PlantTime time)
{
    private const int Most = 200;

    /// <summary>Acts sent in a person's name that wait for a confirmation.</summary>
    public Task<IReadOnlyList<SetApart>> ClaimsAsync(string person, CancellationToken cancel) => ReadAsync("waits_for = 'person' and person = $1", person, cancel);

    /// <summary>Restatements that wait for a second person, other than the person's own.</summary>
    public Task<IReadOnlyList<SetApart>> ApprovalsAsync(string person, CancellationToken cancel) => ReadAsync("waits_for = 'second' and person is distinct from $1", person, cancel);

    /// <summary>A person's own restatements that wait for somebody else, or for the record that they change.</summary>
    public Task<IReadOnlyList<SetApart>> WithOthersAsync(string person, CancellationToken cancel) => ReadAsync("waits_for in ('second', 'record') and person = $1", person, cancel);

    private async Task<IReadOnlyList<SetApart>> ReadAsync(string condition, string person, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        return await SetApart.ReadAsync(connection, $"select {SetApart.Columns} from trace.quarantine where cleared_at is null and {condition} order by received_at, id limit {Most}", cancel, person);
    }

    /// <summary>Confirms a claim of one's own, or refuses it.</summary>
    public Task<Decided> ConfirmAsync(Guid id, string? contentHash, bool yes, string? reason, string person, string? pin, CancellationToken cancel) =>
        SettleAsync(id, contentHash, yes, reason, person, pin, WaitsFor.Person, async (sitting, entry, sent) =>
        {
            if (entry.Person != person) return Stays(Unknown(id));
            if (!yes) return null;
            var type = FactCatalog.All[sent.Type];
            if (!WhoMay.Records(type, register.Person(person)?.Roles ?? []))
                return Stays(Decided.Refused(403, "who-may", "Another role does this", $"{person} does not have the role {string.Join(" or ", type.Roles)}."));
            var received = entry.Received($", confirmed by {person} with the PIN");
            var fact = FactCatalog.Read(type, sent.Data);
            if (Restating.Restates(type) && await Restating.MayOpenAsync(sitting.Connection, fact, Recorder.Subjects(fact, sent), cancel))
            {
                await using var weigh = new NpgsqlCommand("update trace.quarantine set waits_for = 'weighing', assurance = $3, reason = $4 where id = $1 and content_hash = $2", sitting.Connection)
                { Parameters = { new() { Value = id }, new() { Value = entry.ContentHash }, new() { Value = received.Assurance }, new() { Value = Restating.Reason } } };
                await weigh.ExecuteNonQueryAsync(cancel);
                return Stays(new(new { record = id, status = "weighing" }, null));
            }

            // First, so that it stands there who let it through; recording it would say that it was sent again.
            await sitting.SettleAsync(sent, person, cancel);
            return Recorded(await sitting.AddAsync(received, sent, cancel));
        }, cancel);

    /// <summary>Approves a restatement as the second person, or refuses it.</summary>
    public Task<Decided> ApproveAsync(Guid id, string? contentHash, bool yes, string? reason, string person, string? pin, CancellationToken cancel) =>
        SettleAsync(id, contentHash, yes, reason, person, pin, WaitsFor.Second, async (sitting, entry, sent) =>
        {
            if (entry.Person == person) return Stays(new(null, Problems.Of(403, "second-approver", "Nobody approves an own entry", $"{person} sent this entry. Another person, who is not of production, approves it. Nothing was recorded.")));
            if (!WhoMay.ApprovesSecond(register.Person(person)?.Roles ?? [])) return Stays(new(null, WhoMay.NotSecond(register.Person(person)!)));
            if (await PartsInUnits.FirstAsync(sitting.Connection, await BearsOnAsync(sitting, sent, cancel), person, cancel) is { } unit) return Stays(new(null, PartsInUnits.Refusal(person, unit)));
            if (!yes) return null;
            await sitting.SettleAsync(sent, person, cancel);
            return Recorded(await sitting.AddAsync(entry.Received(Turned.Approved(person)), sent, cancel));
        }, cancel);

    private async Task<Decided> SettleAsync(
        Guid id, string? contentHash, bool yes, string? reason, string person, string? pin, WaitsFor waits, Func<Sitting, SetApart, CloudEvent, Task<Settled?>> settle, CancellationToken cancel)
    {
        if (!yes && reason?.Trim() is not { Length: > 0 and <= 500 }) return Decided.Wrong("reason", "must be a text of 1 to 500 characters", "Say why it does not count.");
        if (signing.Pin(person, pin).Problem is { } unsigned) return new(null, unsigned);
        // Whether the second person has a part in it is asked of every unit above: before anybody waits.
        if (waits == WaitsFor.Second)
            return (await rehearsal.DecideAsync(SitAsync, s => s.Decided.Problem is null, person, "service", cancel))?.Decided
                ?? Decided.Refused(409, "keeps-changing", "Records keep arriving", "Records that bear on the same units came each time this was looked at. Wait until the stations have sent what they hold, and try again.");
        await using var writing = await recorder.BeginAsync(cancel);
        var alone = await SitAsync(new Sitting(writing, time, time.Local(clock.GetUtcNow()), person, "service"));
        if (alone.Decided.Problem is null) await writing.CommitAsync(cancel);
        return alone.Decided;

        async Task<Settled> SitAsync(Sitting sitting)
        {
            var entry = (await SetApart.ReadAsync(sitting.Connection, $"select {SetApart.Columns} from trace.quarantine where id = $1 and content_hash = $2 and cleared_at is null and waits_for = $3", cancel, id, contentHash ?? "", SetApart.Name(waits))).FirstOrDefault();
            if (entry is null) return Stays(Unknown(id));
            var sent = CloudEvent.ReadCanonical(entry.Bytes);
            if (yes && await AgencyWords.RefusalAsync(sitting.Connection, entry, sent, cancel) is { } agency)
                return Stays(Decided.Refused(409, "agency-act", "This is the agency's to say", agency + "."));
            var settled = await settle(sitting, entry, sent);
            if (settled?.Decided.Problem is not null) return settled;
            if (settled is null) await sitting.SettleAsync(sent, person + Restating.Refused + reason!.Trim(), cancel);
            return settled ?? new(new(new { record = id, status = "refused", at = clock.GetUtcNow() }, null), false);
        }
    }

    // A bound against a plant's whole history: a record that bears on more is one of all its units, a profile for example. Our own choice.
    internal const int MostAsked = 20_000;

    /// <summary>The units that a restatement bears on: through the record that it changes, or through what it says anew.</summary>
    private static async Task<IReadOnlyList<Subject>> BearsOnAsync(Sitting sitting, CloudEvent sent, CancellationToken cancel)
    {
        var fact = FactCatalog.Read(FactCatalog.All[sent.Type], sent.Data);
        Guid? changed = fact switch { RecordCorrected c => c.Record, RecordWithdrawn w => w.Record, _ => null };
        if (changed is null) return await AffectedUnits.AboveAsync(sitting.Connection, [], MostAsked, cancel, [.. Recorder.Subjects(fact, sent)]);
        return await Restatement.FindAsync(sitting.Connection, changed.Value, cancel) is { } earlier ? await AffectedUnits.AboveAsync(sitting.Connection, [earlier.Position], MostAsked, cancel) : [];
    }

    /// <param name="Stays">Whether the entry goes on waiting.</param>
    private sealed record Settled(Decided Decided, bool Stays);

    private static Settled Stays(Decided decided) => new(decided, true);

    private static Settled Recorded(Outcome outcome) => new(new(new { record = outcome.RecordId, status = outcome.Status.ToString().ToLowerInvariant(), position = outcome.Position, reason = outcome.Reason }, null), false);

    private static Decided Unknown(Guid id) => Decided.Refused(404, "not-waiting", "Nothing of that name waits for you", $"'{id}' is not among what waits. It may have been settled meanwhile: open the list again.");
}

public static class WaitingEndpoints
{
    public sealed record Settlement(string ContentHash, string Pin, string? Reason = null);

    public static void MapWaiting(this IEndpointRouteBuilder app)
    {
        var claims = Map(app.MapGroup("/v1/claims"), Access.Claims, (room, person, cancel) => room.ClaimsAsync(person, cancel), "Acts that were sent in one's own name without proof, and wait for a confirmation");
        claims.MapPost("/{id:guid}/confirmations", async (Guid id, Settlement s, HttpContext http, WaitingRoom room, CancellationToken cancel) => (await room.ConfirmAsync(id, s.ContentHash, true, null, http.User.PersonId(), s.Pin, cancel)).Result())
            .RequireAuthorization(Access.Claims).WithSummary("Confirm a claim of one's own: it counts from now on").ProducesProblem(403).ProducesProblem(404).ProducesProblem(429);
        claims.MapPost("/{id:guid}/refusals", async (Guid id, Settlement s, HttpContext http, WaitingRoom room, CancellationToken cancel) => (await room.ConfirmAsync(id, s.ContentHash, false, s.Reason, http.User.PersonId(), s.Pin, cancel)).Result())
            .RequireAuthorization(Access.Claims).WithSummary("Refuse a claim: it stays kept and never counts").ProducesProblem(403).ProducesProblem(404).ProducesProblem(422).ProducesProblem(429);
        var approvals = Map(app.MapGroup("/v1/approvals"), Access.Approve, (room, person, cancel) => room.ApprovalsAsync(person, cancel), "Restatements that open something and wait for a second person");
        approvals.MapPost("/{id:guid}/approvals", async (Guid id, Settlement s, HttpContext http, WaitingRoom room, CancellationToken cancel) => (await room.ApproveAsync(id, s.ContentHash, true, null, http.User.PersonId(), s.Pin, cancel)).Result())
            .RequireAuthorization(Access.Approve).WithSummary("Approve as the second person: it counts from now on").ProducesProblem(403).ProducesProblem(404).ProducesProblem(429);
        approvals.MapPost("/{id:guid}/refusals", async (Guid id, Settlement s, HttpContext http, WaitingRoom room, CancellationToken cancel) => (await room.ApproveAsync(id, s.ContentHash, false, s.Reason, http.User.PersonId(), s.Pin, cancel)).Result())
            .RequireAuthorization(Access.Approve).WithSummary("Refuse as the second person: the old verdict stands").ProducesProblem(403).ProducesProblem(404).ProducesProblem(422).ProducesProblem(429);
    }

    // Both rooms list what waits in one form.
    private static RouteGroupBuilder Map(RouteGroupBuilder group, string action, Func<WaitingRoom, string, CancellationToken, Task<IReadOnlyList<SetApart>>> waiting, string summary)
    {
        group.WithTags("Waiting");
        group.MapGet("/", async (HttpContext http, WaitingRoom room, CancellationToken cancel) => Results.Json((await waiting(room, http.User.PersonId(), cancel)).Select(QuarantineEndpoints.View)))
            .RequireAuthorization(action).WithSummary(summary);
        return group;
    }
}
