using System.Security.Cryptography;
using Microsoft.AspNetCore.Mvc;
using Traceability.Core.Events;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>Kiosks: enrolled with a code, revoked, and asked whether an entry of theirs is missing.</summary>
public static class DeviceEndpoints
{
    /// <summary>Roles a station can have: those that record facts.</summary>
    public static readonly IReadOnlyList<string> StationRoles = [.. Roles.All.Except(Roles.Alone).Except([Roles.SecondApprover])];

    private const int MostSources = 20, LongestSource = 200;

    public sealed record SourcesRequest(IReadOnlyList<string> Sources);

    public sealed record CodeRequest(IReadOnlyList<string> Roles);

    /// <param name="PublicKey">SubjectPublicKeyInfo of an ECDSA P-256 key, base64.</param>
    public sealed record EnrolRequest(string Code, string Name, string PublicKey);

    public static void MapDevices(this IEndpointRouteBuilder app)
    {
        app.MapPost("/v1/devices/codes", MakeCodeAsync).RequireAuthorization(Access.Administrator).WithTags("Devices")
            .WithSummary("Make a code that enrolls one kiosk").WithDescription($"The code is shown once, holds for {EnrolmentCodes.ValidFor.TotalMinutes} minutes and is used once.").ProducesProblem(422);
        app.MapPost("/v1/devices/enrol", EnrolAsync).AllowAnonymous().WithTags("Devices")
            .WithSummary("Enroll a kiosk with a code and its public key").ProducesProblem(403).ProducesProblem(422);
        app.MapPost("/v1/devices/{id}/revocation", PostRevocationAsync).RequireAuthorization(Access.Administrator).WithTags("Devices")
            .WithSummary("Revoke a device; what it sends from then on is quarantined").WithDescription("Signed with the administrator's PIN.").ProducesProblem(403).ProducesProblem(404).ProducesProblem(429);
        app.MapPost("/v1/devices/{id}/sources", PostSourcesAsync).RequireAuthorization(Access.Administrator).WithTags("Devices")
            .WithSummary("Tie a device to the CloudEvents sources it sends under; what it sends under others is quarantined from then on")
            .WithDescription("An empty list unties it. A source belongs to one device; what another sends under it is quarantined.").ProducesProblem(404).ProducesProblem(422);
        app.MapGet("/v1/devices/{id}/sequence", SequenceAsync).RequireAuthorization(Access.Read).WithTags("Devices")
            .WithSummary("Entries of a device that never arrived, by its own numbering").Produces<DeviceSequence>().ProducesProblem(404);
    }

    /// <summary>Revokes a device.</summary>
    /// <returns>False when there is no such device.</returns>
    public static async Task<bool> RevokeAsync(this Authority authority, Register register, string id, string by, DateTimeOffset now, CancellationToken cancel)
    {
        if (register.Device(id) is not { } device) return false;
        if (device.RevokedAt is null) await authority.ChangeAsync(device with { RevokedAt = now }, new DeviceRevoked(id), by, Authority.Pin, cancel);
        return true;
    }

    /// <summary>Ties a device to sources; to none when the list is empty.</summary>
    /// <returns>What is wrong with them; null when they hold now.</returns>
    public static async Task<ProblemDetails?> TieAsync(this Authority authority, Register register, string id, string by, IReadOnlyList<string>? sources, CancellationToken cancel)
    {
        if (register.Device(id) is not { } device) return NoDevice(id);
        if (sources is not { Count: <= MostSources } || sources.Any(s => s is not { Length: > 0 and <= LongestSource } || s.Any(char.IsWhiteSpace)))
            return Problems.Shape([new("sources", $"must be at most {MostSources} URI references of 1 to {LongestSource} characters without spaces", "Write them as the station sends them, for example /plant/cage-1.")]);
        if (sources.Select(s => (Source: s, Owner: register.OwnerOf(s))).FirstOrDefault(s => s.Owner is { } owner && owner.Id != id) is { Owner: { } taken } clash)
            return Problems.Shape([new("sources", $"'{clash.Source}' belongs to device {taken.Id}", "Untie it there first.")]);
        IReadOnlyList<string> tied = [.. sources.Distinct()];
        await authority.ChangeAsync(device with { Sources = tied.Count == 0 ? null : tied }, new DeviceTied(id, tied), by, Authority.Session, cancel);
        return null;
    }

    private static async Task<IResult> PostSourcesAsync(string id, SourcesRequest request, HttpContext http, Authority authority, Register register, CancellationToken cancel) =>
        await authority.TieAsync(register, id, http.User.PersonId(), request.Sources, cancel) is { } problem ? Problems.Result(problem) : Results.NoContent();

    private static async Task<IResult> MakeCodeAsync(CodeRequest request, HttpContext http, EnrolmentCodes codes, CancellationToken cancel)
    {
        if (request.Roles is not { Count: > 0 } || request.Roles.Except(StationRoles).Any())
            return Problems.Result(Problems.Shape([new("roles", "must list station roles of this plant: " + string.Join(", ", StationRoles), "Name the roles of the station the kiosk stands at.")]));
        var (code, until) = await codes.MakeAsync(request.Roles, http.User.PersonId(), cancel);
        return Results.Json(new { code, validUntil = until }, statusCode: 201);
    }

    private static async Task<IResult> EnrolAsync(EnrolRequest request, Authority authority, EnrolmentCodes codes, TimeProvider clock, CancellationToken cancel)
    {
        if (string.IsNullOrWhiteSpace(request.Name) || request.Name.Length > 60)
            return Problems.Result(Problems.Shape([new("name", "must be a text of 1 to 60 characters", "Name the kiosk by its place.")]));
        if (!IsP256(request.PublicKey))
            return Problems.Result(Problems.Shape([new("publicKey", "must be base64 of the SubjectPublicKeyInfo of an ECDSA P-256 key", "Let the kiosk make its key.")]));
        if (await codes.UseAsync(request.Code ?? "", cancel) is not { } code)
            return Problems.Result(Problems.Of(403, "enrolment-code", "The code is not right", $"The code is mistyped, used up or older than {EnrolmentCodes.ValidFor.TotalMinutes} minutes. Ask an administrator for a new one."));
        var device = new Device { Id = "k-" + Guid.CreateVersion7(clock.GetUtcNow()).ToString("N"), Name = request.Name, PublicKey = request.PublicKey, Roles = code.Roles };
        device = device with { Sources = ["/kiosk/" + device.Id] };
        await authority.ChangeAsync(device, new DeviceEnrolled(device.Id, code.Roles, device.KeySha256()!, request.PublicKey), code.MadeBy, Authority.Code, cancel);
        return Results.Json(new { deviceId = device.Id }, statusCode: 201);
    }

    private static async Task<IResult> PostRevocationAsync(string id, PinRequest request, HttpContext http, Authority authority, Register register, Signing signing, TimeProvider clock, CancellationToken cancel) =>
        signing.Pin(http.User.PersonId(), request.Pin).Problem is { } unsigned ? Problems.Result(unsigned) : await authority.RevokeAsync(register, id, http.User.PersonId(), clock.GetUtcNow(), cancel) ? Results.NoContent() : Unknown(id);

    private static async Task<IResult> SequenceAsync(string id, Register register, DeviceSequences sequences, CancellationToken cancel) =>
        register.Device(id) is null ? Unknown(id) : Results.Json(await sequences.OfAsync(id, cancel));

    private static IResult Unknown(string id) => Problems.Result(NoDevice(id));

    private static ProblemDetails NoDevice(string id) => Problems.Of(404, "device-unknown", "No such device", $"'{id}' is not a device of this plant. The devices page lists them.");

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
