using System.Collections.Concurrent;
using System.Security.Cryptography;
using Marten;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Assembling;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>What a kiosk needs of the service beside the way of its facts: enrolment, sign-on, and the papers it keeps for working offline.</summary>
public static class KioskEndpoints
{
    /// <summary>Enrolment codes: only their hash, used once.</summary>
    public const string Ddl = """
        create table if not exists trace.enrolment_code (
            hash text primary key,
            roles text[] not null,
            made_by text not null,
            valid_until timestamptz not null
        );
        """;

    private static readonly TimeSpan CodeValidFor = TimeSpan.FromMinutes(30);

    // Without letters and digits that are mistaken for each other when read off a screen.
    private const string CodeAlphabet = "ABCDEFGHJKMNPQRSTUVWXYZ23456789";

    public sealed record CodeRequest(IReadOnlyList<string> Roles);

    /// <param name="PublicKey">SubjectPublicKeyInfo of an ECDSA P-256 key, base64.</param>
    public sealed record EnrolRequest(string Code, string Name, string PublicKey);

    public sealed record SignOnRequest(string Person, string Pin);

    public sealed record SignOnAnswer(string Person, IReadOnlyList<string> Roles, string DisplayName, OfflineVerifier OfflineVerifier);

    public sealed record KioskUnit(string Unit, string Mark, string Drawing, string Form, DateOnly PourOn);

    public static void MapKiosk(this IEndpointRouteBuilder app)
    {
        app.MapPost("/v1/devices/codes", MakeCodeAsync).RequireAuthorization(Access.Administrator).WithTags("Devices")
            .WithSummary("Make a code that enrols one kiosk").WithDescription($"The code is shown once, holds for {CodeValidFor.TotalMinutes} minutes and is used once.").ProducesProblem(422);
        app.MapPost("/v1/devices/enrol", EnrolAsync).AllowAnonymous().WithTags("Devices")
            .WithSummary("Enrol a kiosk with a code and its public key").ProducesProblem(403).ProducesProblem(422);
        app.MapPost("/v1/kiosk/sign-on", SignOn).RequireAuthorization(Access.Device).WithTags("Kiosk")
            .WithSummary("Sign a person on at a kiosk with badge and PIN").Produces<SignOnAnswer>().ProducesProblem(401).ProducesProblem(403).ProducesProblem(429);
        app.MapGet("/v1/kiosk/units", UnitsAsync).RequireAuthorization(Access.ReadOrDevice).WithTags("Kiosk")
            .WithSummary("Units that have not been shipped, for a kiosk's offline bundle").Produces<IReadOnlyList<KioskUnit>>();
        app.MapGet("/v1/kiosk/shelf", ShelfAsync).RequireAuthorization(Access.ReadOrDevice).WithTags("Kiosk")
            .WithSummary("Records of lots, people, instruments and forms after a log position, exact bytes")
            .WithDescription("What a kiosk's next entry may name although no unit names it yet. In the format of a dossier.");
    }

    private static async Task<IResult> MakeCodeAsync(CodeRequest request, HttpContext http, NpgsqlDataSource source, TimeProvider clock, CancellationToken cancel)
    {
        if (request.Roles is not { Count: > 0 } || request.Roles.Except(Roles.All).Any())
            return Problems.Result(Problems.Shape([new("roles", "must list station roles of this plant: " + string.Join(", ", Roles.All), "Name the roles of the station the kiosk stands at.")]));
        var code = RandomNumberGenerator.GetString(CodeAlphabet, 12);
        var until = clock.GetUtcNow() + CodeValidFor;
        await using var command = source.CreateCommand("insert into trace.enrolment_code (hash, roles, made_by, valid_until) values ($1, $2, $3, $4)");
        command.Parameters.Add(new() { Value = Register.HashKey(code) });
        command.Parameters.Add(new() { Value = request.Roles.ToArray() });
        command.Parameters.Add(new() { Value = http.User.PersonId() });
        command.Parameters.Add(new() { Value = until });
        await command.ExecuteNonQueryAsync(cancel);
        return Results.Json(new { code, validUntil = until }, statusCode: 201);
    }

    private static async Task<IResult> EnrolAsync(EnrolRequest request, Register register, NpgsqlDataSource source, TimeProvider clock, CancellationToken cancel)
    {
        if (string.IsNullOrWhiteSpace(request.Name) || request.Name.Length > 60)
            return Problems.Result(Problems.Shape([new("name", "must be a text of 1 to 60 characters", "Name the kiosk by its place.")]));
        if (!IsP256(request.PublicKey))
            return Problems.Result(Problems.Shape([new("publicKey", "must be base64 of the SubjectPublicKeyInfo of an ECDSA P-256 key", "Let the kiosk make its key.")]));
        await using var command = source.CreateCommand("delete from trace.enrolment_code where hash = $1 and valid_until > $2 returning roles");
        command.Parameters.Add(new() { Value = Register.HashKey((request.Code ?? "").Trim().ToUpperInvariant()) });
        command.Parameters.Add(new() { Value = clock.GetUtcNow() });
        if (await command.ExecuteScalarAsync(cancel) is not string[] roles)
            return Problems.Result(Problems.Of(403, "enrolment-code", "The code is not right", "The code is mistyped, used up or older than 30 minutes. Ask an administrator for a new one."));
        var device = new Device { Id = "k-" + Guid.CreateVersion7(clock.GetUtcNow()).ToString("N"), Name = request.Name, PublicKey = request.PublicKey, Roles = roles };
        await register.SaveAsync([device], cancel);
        return Results.Json(new { deviceId = device.Id }, statusCode: 201);
    }

    private static IResult SignOn(SignOnRequest request, HttpContext http, Register register, PinTries tries, TimeProvider clock)
    {
        if (http.User.HasClaim(DeviceAuthentication.RevokedClaim, "true"))
            return Problems.Result(Problems.Of(403, "device-revoked", "This kiosk was revoked", "This kiosk was revoked. Ask an administrator."));
        var now = clock.GetUtcNow();
        if (tries.WaitUntil(request.Person, now) is { } until)
            return Problems.Result(Problems.Of(429, "pin-tries", "Too many wrong PINs", $"Too many wrong PINs. Try again in {Math.Ceiling((until - now).TotalMinutes)} minutes."));
        var person = register.Person(request.Person);
        if (person is null || !Register.PinIs(person, request.Pin))
        {
            tries.Wrong(request.Person, now);
            return Problems.Result(Problems.Of(401, "sign-on", "Badge and PIN do not match", "Badge and PIN do not match. Check both and try again."));
        }

        tries.Right(request.Person);
        if (person.LapsedAt <= now)
            return Problems.Result(Problems.Of(403, "lapsed", "The badge no longer holds", "The roles of this badge have lapsed. Ask an administrator."));
        return Results.Json(new SignOnAnswer(person.Id, person.Roles, person.DisplayName, OfflineVerifier.Create(request.Pin)));
    }

    private static async Task<IResult> UnitsAsync(IQuerySession session, CancellationToken cancel)
    {
        var rows = await session.Query<UnitRow>().Where(u => u.Phase != UnitPhase.Shipped && u.Mark != null).ToListAsync(cancel);
        return Results.Json(rows.Where(r => r is { PourOn: not null, Drawing: not null, Form: not null })
            .OrderBy(r => r.PourOn).ThenBy(r => r.Id, StringComparer.Ordinal)
            .Select(r => new KioskUnit(r.Id, r.Mark!, r.Revision is null ? r.Drawing! : $"{r.Drawing} rev {r.Revision}", r.Form!, r.PourOn!.Value)));
    }

    private static async Task<IResult> ShelfAsync(long? after, NpgsqlDataSource source, CancellationToken cancel)
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
        return Results.Bytes(new Dossier(Subject.Unit("shelf"), position, records).Write(), "application/json");
    }

    private static bool IsP256(string? spki)
    {
        try
        {
            using var key = ECDsa.Create();
            key.ImportSubjectPublicKeyInfo(Convert.FromBase64String(spki ?? ""), out _);
            return key.ExportParameters(false).Curve.Oid.FriendlyName is "nistP256" or "ECDSA_P256";
        }
        catch (Exception e) when (e is FormatException or CryptographicException)
        {
            return false;
        }
    }
}

/// <summary>Counts wrong PINs of a person in a row. In memory of one process: it slows guessing down, and a restart forgives.</summary>
public sealed class PinTries
{
    /// <summary>Our own choice.</summary>
    private const int Allowed = 5;

    private static readonly TimeSpan Wait = TimeSpan.FromMinutes(5);

    private readonly ConcurrentDictionary<string, (int Wrong, DateTimeOffset Last)> _tries = new(StringComparer.Ordinal);

    /// <summary>Until when the person has to wait; null when they may try.</summary>
    public DateTimeOffset? WaitUntil(string person, DateTimeOffset now) =>
        _tries.TryGetValue(person, out var tries) && tries.Wrong >= Allowed && now < tries.Last + Wait ? tries.Last + Wait : null;

    public void Wrong(string person, DateTimeOffset now) =>
        _tries.AddOrUpdate(person, (1, now), (_, t) => now > t.Last + Wait ? (1, now) : (t.Wrong + 1, now));

    public void Right(string person) => _tries.TryRemove(person, out _);
}
