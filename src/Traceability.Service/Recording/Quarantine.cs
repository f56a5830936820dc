using Npgsql;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Recording;

/// <summary>
/// Facts that may not count yet: of a revoked device, of a person without the role, of a type or version this service does
/// not read. They are kept whole until an administrator clears them; a cleared reading is recorded like any other and says
/// in its assurance who cleared it, a cleared act becomes a claim that its person confirms.
/// </summary>
public sealed class Quarantine(Recorder recorder, NpgsqlDataSource source, TimeProvider clock)
{
    /// <summary>Those that wait, the oldest first, then those cleared last.</summary>
    public async Task<IReadOnlyList<SetApart>> ListAsync(CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        return
        [
            .. await SetApart.ReadAsync(connection, $"select {SetApart.Columns} from trace.quarantine where cleared_at is null and waits_for = 'administrator' order by received_at, id limit 200", cancel),
            .. await SetApart.ReadAsync(connection, $"select {SetApart.Columns} from trace.quarantine where cleared_at is not null and waits_for = 'administrator' order by cleared_at desc, id limit 50", cancel),
        ];
    }

    /// <summary>Records the fact and marks it cleared, in one transaction: it never counts twice and is never lost between the two.</summary>
    public async Task<LetThrough> ClearAsync(Guid id, string contentHash, string person, CancellationToken cancel)
    {
        await using var writing = await recorder.BeginAsync(cancel);
        var entry = (await SetApart.ReadAsync(writing.Connection, $"select {SetApart.Columns} from trace.quarantine where id = $1 and content_hash = $2 and waits_for = 'administrator'", cancel, id, contentHash)).FirstOrDefault();
        if (entry is null) return new(null, null, "nothing is quarantined under this id with this content");
        if (entry.SettledAt is not null) return new(null, entry, $"it was cleared by {entry.SettledBy} already");
        if (await AgencyWords.RefusalAsync(writing.Connection, entry, CloudEvent.ReadCanonical(entry.Bytes), cancel) is { } agency) return new(null, entry, agency);
        // The administrator says whether a station may send, not what somebody decided.
        if (FactCatalog.All.GetValueOrDefault(entry.Type)?.Kind == FactKind.Act) return await ClaimAsync(writing, entry, person, cancel);
        Outcome outcome;
        try
        {
            outcome = (await writing.AddAsync([(entry.Received($", cleared by {person}"), CloudEvent.ReadCanonical(entry.Bytes))], cancel))[0];
            if (outcome.Status == EntryStatus.Quarantined) return new(null, entry, outcome.Reason);
        }
        catch (Exception e) when (!Recorder.IsAway(e))
        {
            return new(null, entry, "it cannot be recorded as it is: " + e.Message);
        }

        await using (var mark = new NpgsqlCommand("update trace.quarantine set cleared_by = $3, cleared_at = $4 where id = $1 and content_hash = $2", writing.Connection)
        { Parameters = { new() { Value = id }, new() { Value = contentHash }, new() { Value = person }, new() { Value = clock.GetUtcNow().UtcDateTime } } })
        {
            await mark.ExecuteNonQueryAsync(cancel);
        }

        await writing.CommitAsync(cancel);
        return new(outcome, entry, null);
    }

    /// <summary>Makes a claim of a cleared act, for its person to confirm.</summary>
    private static async Task<LetThrough> ClaimAsync(Writing writing, SetApart entry, string administrator, CancellationToken cancel)
    {
        if (entry.Person is not { } person) return new(null, entry, "it is an act and names nobody, so nobody can confirm it");
        await using var claim = new NpgsqlCommand("update trace.quarantine set waits_for = 'person', assurance = $3, reason = $4 where id = $1 and content_hash = $2", writing.Connection)
        {
            Parameters =
            {
                new() { Value = entry.Id }, new() { Value = entry.ContentHash }, new() { Value = $"{entry.Assurance}, cleared by {administrator}" },
                new() { Value = $"It was held back ({entry.Reason}) and cleared by {administrator}. It counts when {person} confirms it with the PIN." },
            },
        };
        await claim.ExecuteNonQueryAsync(cancel);
        await writing.CommitAsync(cancel);
        return new(new(entry.Id, EntryStatus.Claimed, null), entry, null);
    }
}

public static class QuarantineEndpoints
{
    public sealed record ClearRequest(string ContentHash);

    public static void MapQuarantine(this IEndpointRouteBuilder app)
    {
        app.MapGet("/v1/quarantine", async (Quarantine quarantine, CancellationToken cancel) => Results.Json((await quarantine.ListAsync(cancel)).Select(View)))
            .RequireAuthorization(Access.SetApart).WithTags("Set apart").WithSummary("Facts in quarantine: those that wait, then those cleared last");
        app.MapPost("/v1/quarantine/{id:guid}/clear", async (Guid id, ClearRequest request, HttpContext http, Quarantine quarantine, CancellationToken cancel) =>
                Answer(await quarantine.ClearAsync(id, request.ContentHash, http.User.PersonId(), cancel)))
            .RequireAuthorization(Access.SetApart).WithTags("Set apart").WithSummary("Clear a quarantined fact: it is recorded and counts from now on")
            .WithDescription("Names the content that was looked at, because two contents may be quarantined under one id.").ProducesProblem(404).ProducesProblem(409);
    }

    internal static object View(SetApart entry) => new
    {
        id = entry.Id, contentHash = entry.ContentHash, source = entry.Source, eventId = entry.EventId, type = entry.Type, device = entry.Device, person = entry.Person,
        reason = entry.Reason, receivedAt = entry.ReceivedAt, settledAt = entry.SettledAt, settledBy = entry.SettledBy, fact = System.Text.Json.JsonDocument.Parse(entry.Bytes).RootElement,
    };

    internal static IResult Answer(LetThrough result) => result switch
    {
        { Recorded: { } recorded } => Results.Json(new { record = recorded.RecordId, status = recorded.Status.ToString().ToLowerInvariant(), position = recorded.Position, reason = recorded.Reason }),
        { Entry: null } => Problems.Result(Problems.Of(404, "not-set-apart", "Nothing of that name is set apart", $"{result.Why}. Look it up in the list again.")),
        _ => Problems.Result(Problems.Of(409, "stays-set-apart", "The fact stays where it is", $"{result.Why}. Nothing was changed.")),
    };
}
