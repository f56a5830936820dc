using Marten;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Assembling;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>What a kiosk needs of the service beside the way of its facts: sign-on, and the papers it keeps for working offline.</summary>
public static class KioskEndpoints
{
    /// <summary>People in one question of a kiosk. Our own choice: more than ever signed on at one.</summary>
    private const int MostKnown = 500;

    public sealed record SignOnRequest(string Person, string Pin);

    public sealed record SignOnAnswer(string Person, IReadOnlyList<string> Roles, string DisplayName, IReadOnlyList<OtherDevice> AlsoAt, string Token, int TokenMinutes, string Known);

    /// <param name="Known">What the sign-on gave for this person at this kiosk.</param>
    public sealed record KnownRequest(string Person, string Known);

    /// <summary>Another kiosk at which the person signed on lately.</summary>
    public sealed record OtherDevice(string Name, DateTimeOffset At);

    public sealed record KioskUnit(string Unit, string Mark, string Drawing, string Form, DateOnly PourOn);

    public static void MapKiosk(this IEndpointRouteBuilder app)
    {
        app.MapPost("/v1/kiosk/sign-on", SignOnAsync).RequireAuthorization(Access.Kiosk).WithTags("Kiosk")
            .WithSummary("Sign a person on at a station with badge and PIN")
            .WithDescription($"The token proves the person's acts at this device for {SignOnTokens.Holds.TotalHours:0} hours: send it with them as {SignOnTokens.Header}.").Produces<SignOnAnswer>().ProducesProblem(401).ProducesProblem(403).ProducesProblem(429);
        app.MapPost("/v1/kiosk/known", (IReadOnlyList<KnownRequest?> known, HttpContext http, SignOnTokens tokens) =>
                known.Count > MostKnown ? Problems.Result(Problems.Of(422, "known", "Too many people at once", $"known: at most {MostKnown} people. Ask in several requests."))
                : Results.Json(known.OfType<KnownRequest>().Where(k => !tokens.IsStillKnown(k.Person, http.User.PersonId(), k.Known)).Select(k => k.Person)))
            .RequireAuthorization(Access.Kiosk).WithTags("Kiosk").WithSummary("Whom a kiosk must forget")
            .WithDescription("Of the people who signed on there before, those whose roles, PIN or password changed or ended since: they sign on there no more without the service.").Produces<IReadOnlyList<string>>().ProducesProblem(422);
        app.MapGet("/v1/kiosk/units", UnitsAsync).RequireAuthorization(Access.ReadOrDevice).WithTags("Kiosk")
            .WithSummary("Units that have not been stripped, for a kiosk's offline bundle").Produces<IReadOnlyList<KioskUnit>>();
        app.MapGet("/v1/kiosk/shelf", ShelfAsync).RequireAuthorization(Access.ReadOrDevice).WithTags("Kiosk")
            .WithSummary("Records of lots, people, instruments and forms after a log position, exact bytes")
            .WithDescription("What a kiosk's next entry may name although no unit names it yet. In the format of a dossier.");
    }

    private static async Task<IResult> SignOnAsync(SignOnRequest request, HttpContext http, Signing signing, SignOns signOns, SignOnTokens tokens, Register register, CancellationToken cancel)
    {
        var signed = signing.Badge(request.Person, request.Pin, http.User.PersonId());
        if (signed.Person is not { } person) return Problems.Result(signed.Problem!);
        var others = await signOns.NoteAsync(person.Id, http.User.PersonId(), cancel);
        return Results.Json(new SignOnAnswer(person.Id, person.Roles, person.DisplayName, [.. others.Select(o => new OtherDevice(register.Device(o.Device)?.Name ?? o.Device, o.At))],
            tokens.Issue(person, http.User.PersonId()), (int)SignOnTokens.Holds.TotalMinutes, tokens.Known(person, http.User.PersonId())));
    }

    private static async Task<IResult> UnitsAsync(IQuerySession session, CancellationToken cancel)
    {
        var rows = await session.Query<UnitRow>().Where(u => u.Watch == 0 && u.Mark != null).ToListAsync(cancel);
        return Results.Json(rows.Where(r => r is { Phase: < UnitPhase.Stripped, PourOn: not null, Drawing: not null, Form: not null })
            .OrderBy(r => r.PourOn).ThenBy(r => r.Id, StringComparer.Ordinal)
            .Select(r => new KioskUnit(r.Id, r.Mark!, r.Revision is null ? r.Drawing! : $"{r.Drawing} rev {r.Revision}", r.Form!, r.PourOn!.Value)));
    }

    private static async Task<IResult> ShelfAsync(long? after, NpgsqlDataSource source, PlantTime time, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        // One snapshot, so that no record falls between the position that is told and the records that are given.
        await using var transaction = await connection.BeginTransactionAsync(System.Data.IsolationLevel.RepeatableRead, cancel);
        await using var newest = new NpgsqlCommand("select coalesce(max(position), 0) from trace.record", connection, transaction);
        var position = (long)(await newest.ExecuteScalarAsync(cancel))!;
        // A correction's stream is the record it corrects; its subjects are found where it is about a lot, a person or an instrument.
        await using var command = new NpgsqlCommand("""
            select r.position, r.bytes from trace.record r
            where r.position > $1 and exists (select from trace.about a where a.position = r.position and a.subject ~ '^(lot|person|instrument|form):')
              and (r.stream ~ '^(lot|person|instrument|form):' or r.stream like 'record:%')
            order by r.position
            """, connection, transaction) { Parameters = { new() { Value = after ?? 0 } } };
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var records = new List<Record>();
        while (await reader.ReadAsync(cancel)) records.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        return Results.Bytes(new Dossier(Subject.Unit("shelf"), position, records, time).Write(), "application/json");
    }
}
