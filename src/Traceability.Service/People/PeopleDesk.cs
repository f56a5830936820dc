using System.Security.Cryptography;
using Microsoft.AspNetCore.Mvc;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>What came of a change in the register: the person with the secrets that are shown once, or the problem in words.</summary>
public sealed record Changed(Person? Person, string? Password, string? Pin, ProblemDetails? Problem);

/// <summary>
/// The administrator's work on people. Secrets are made here, shown once and kept as hashes; a PIN given so signs nothing
/// until its owner chose another. Every change of roles or secrets ends the sessions opened before it.
/// </summary>
public sealed class PeopleDesk(Register register, Signing signing, TimeProvider clock)
{
    /// <summary>Our own choice: with five tries in five minutes six digits are guessed in about a hundred years.</summary>
    private const int ShortestPin = 6, LongestPin = 12, ShortestPassword = 12, LongestPassword = 100, LongestName = 60;

    /// <summary>What stands where a name was.</summary>
    public const string Erased = "(name erased)";

    public async Task<Changed> BringInAsync(string? id, string? displayName, IReadOnlyList<string>? roles, CancellationToken cancel)
    {
        id = id?.Trim();
        if (id is not { Length: > 0 and <= 40 } || !Subject.IsId(id, "person")) return Refused("id", "must be an id of 1 to 40 characters that is nobody's name", "Use the plant's numbering, for example p-120; records hold this id for ever.");
        if (register.Person(id) is not null) return Refused("id", "is taken", "Ids are never given again. Take the next one.");
        if (displayName?.Trim() is not { Length: > 0 and <= LongestName } name) return Refused("displayName", $"must be a text of 1 to {LongestName} characters", "Write the name as it is said in the plant.");
        return Wrong(roles) ?? await GiveAsync(Register.NewPerson(id, name, "", "", [.. roles!.Distinct()]), cancel);
    }

    /// <summary>Gives these roles and no others; roles that lapsed hold again.</summary>
    public async Task<Changed> RolesAsync(string id, IReadOnlyList<string>? roles, CancellationToken cancel)
    {
        if (register.Person(id) is not { } person) return Unknown(id);
        if (person.DisplayName == Erased) return Refused("id", "was erased", "Bring the person in again under another id.");
        return Wrong(roles) ?? await SaveAsync(person with { Roles = [.. roles!.Distinct()], LapsedAt = null }, cancel);
    }

    /// <summary>Lets all roles lapse now. What happened before still counts; what happens after is quarantined.</summary>
    public async Task<Changed> LapseAsync(string id, CancellationToken cancel)
    {
        if (register.Person(id) is not { } person) return Unknown(id);
        return await SaveAsync(person.LapsedAt is null ? person with { LapsedAt = clock.GetUtcNow() } : person, cancel);
    }

    /// <summary>Gives a new password and a new PIN.</summary>
    public async Task<Changed> SecretsAsync(string id, CancellationToken cancel) =>
        register.Person(id) is not { } person ? Unknown(id)
        : person.DisplayName == Erased ? Refused("id", "was erased", "Bring the person in again under another id.")
        : await GiveAsync(person, cancel);

    /// <summary>Erases the name and ends everything the person may do. The id stays in the records and names nobody any more.</summary>
    public async Task<Changed> EraseAsync(string id, CancellationToken cancel)
    {
        if (register.Person(id) is not { } person) return Unknown(id);
        var gone = await GiveAsync(person with { DisplayName = Erased, Roles = [], LapsedAt = person.LapsedAt ?? clock.GetUtcNow() }, cancel);
        return gone with { Password = null, Pin = null };
    }

    /// <summary>A person's own choice of secrets, signed with the password in use. An empty one is left as it is.</summary>
    public async Task<Changed> ChooseAsync(string id, string? password, string? newPassword, string? newPin, CancellationToken cancel)
    {
        if (string.IsNullOrEmpty(newPassword) && string.IsNullOrEmpty(newPin)) return Refused("newPin", "or newPassword must be there", "Choose a new PIN, a new password or both.");
        if (newPassword is { Length: > 0 } && newPassword.Length is < ShortestPassword or > LongestPassword) return Refused("newPassword", $"must have {ShortestPassword} to {LongestPassword} characters", "Take several words.");
        if (newPin is { Length: > 0 } && (newPin.Length is < ShortestPin or > LongestPin || !newPin.All(char.IsAsciiDigit))) return Refused("newPin", $"must have {ShortestPin} to {LongestPin} digits", "Take digits that are no date of yours.");
        var signed = signing.Password(id, password);
        if (signed.Person is not { } person) return new(null, null, null, signed.Problem);
        if (newPin is { Length: > 0 } && Register.PinIs(person, newPin)) return Refused("newPin", "must be another than the one in use", "Choose other digits.");
        var fresh = Register.NewPerson(person.Id, person.DisplayName, newPassword ?? "", newPin ?? "", person.Roles);
        return await SaveAsync(person with
        {
            PasswordHash = string.IsNullOrEmpty(newPassword) ? person.PasswordHash : fresh.PasswordHash,
            PinHash = string.IsNullOrEmpty(newPin) ? person.PinHash : fresh.PinHash,
            PinIsGiven = string.IsNullOrEmpty(newPin) && person.PinIsGiven,
        }, cancel);
    }

    private async Task<Changed> GiveAsync(Person person, CancellationToken cancel)
    {
        // Without characters that are mistaken for each other when read off a screen.
        var password = RandomNumberGenerator.GetString("abcdefghjkmnpqrstuvwxyz23456789", 16);
        var pin = RandomNumberGenerator.GetString("0123456789", ShortestPin);
        var fresh = Register.NewPerson(person.Id, person.DisplayName, password, pin, person.Roles);
        var saved = await SaveAsync(person with { PasswordHash = fresh.PasswordHash, PinHash = fresh.PinHash, PinIsGiven = true }, cancel);
        return saved with { Password = password, Pin = pin };
    }

    private async Task<Changed> SaveAsync(Person person, CancellationToken cancel)
    {
        var stamped = person with { Stamp = RandomNumberGenerator.GetHexString(16, lowercase: true) };
        await register.SaveAsync([stamped], cancel);
        return new(stamped, null, null, null);
    }

    private static Changed? Wrong(IReadOnlyList<string>? roles)
    {
        if (roles is not { Count: > 0 } || roles.Except(Roles.All).Any()) return Refused("roles", "must be roles of this plant: " + string.Join(", ", Roles.All), "Name at least one; let all lapse to take the last away.");
        return roles.Distinct().Count() > 1 && roles.Intersect(Roles.Alone).FirstOrDefault() is { } alone
            ? Refused("roles", $"must not join {alone} with another role", "Who looks over the plant or keeps its keys does not also work in it. Bring in a second person.") : null;
    }

    private static Changed Refused(string field, string limit, string remedy) => new(null, null, null, Problems.Of(422, "person", "Not changed", $"{field}: {limit}. {remedy}", ("errors", new[] { new { field, limit, remedy } })));

    private static Changed Unknown(string id) => new(null, null, null, Problems.Of(404, "person-unknown", "No such person", $"'{id}' is not in the register. The people page lists everybody."));
}

public static class PeopleEndpoints
{
    public sealed record NewPersonRequest(string Id, string DisplayName, IReadOnlyList<string> Roles);

    public sealed record RolesRequest(IReadOnlyList<string> Roles);

    /// <param name="Password">The password in use.</param>
    public sealed record SecretsRequest(string Password, string? NewPassword = null, string? NewPin = null);

    public static void MapPeople(this IEndpointRouteBuilder app)
    {
        var people = app.MapGroup("/v1/people").WithTags("People");
        people.MapGet("", async (Register register, SignOns signOns, CancellationToken cancel) =>
            {
                var at = await signOns.AllAsync(cancel);
                return Results.Json(register.People.OrderBy(p => p.Id, StringComparer.Ordinal).Select(p => new { id = p.Id, displayName = p.DisplayName, roles = p.Roles, lapsedAt = p.LapsedAt, pinIsGiven = p.PinIsGiven, signedOnAt = at[p.Id] }));
            })
            .RequireAuthorization(Access.People).WithSummary("Everybody in the register, with the kiosks they signed on at lately");
        people.MapPost("", async (NewPersonRequest request, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.BringInAsync(request.Id, request.DisplayName, request.Roles, cancel), 201))
            .RequireAuthorization(Access.People).WithSummary("Bring a person in; the answer shows the first password and PIN once").ProducesProblem(422);
        people.MapPost("/{id}/roles", async (string id, RolesRequest request, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.RolesAsync(id, request.Roles, cancel)))
            .RequireAuthorization(Access.PeopleOfOthers).WithSummary("Give a person these roles and no others; ends their sessions").ProducesProblem(404).ProducesProblem(422);
        people.MapPost("/{id}/lapse", async (string id, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.LapseAsync(id, cancel)))
            .RequireAuthorization(Access.PeopleOfOthers).WithSummary("Let all roles of a person lapse now").ProducesProblem(404);
        people.MapPost("/{id}/secrets", async (string id, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.SecretsAsync(id, cancel)))
            .RequireAuthorization(Access.PeopleOfOthers).WithSummary("Give a person a new password and PIN, shown once").ProducesProblem(404).ProducesProblem(422);
        people.MapPost("/{id}/erasure", async (string id, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.EraseAsync(id, cancel)))
            .RequireAuthorization(Access.PeopleOfOthers).WithSummary("Erase a person's name; the id stays in the records").ProducesProblem(404);
        people.MapPost("/{id}/own-secrets", async (string id, SecretsRequest request, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.ChooseAsync(id, request.Password, request.NewPassword, request.NewPin, cancel)))
            .RequireAuthorization(Access.Account).WithSummary("Choose one's own password or PIN; ends one's other sessions").ProducesProblem(401).ProducesProblem(422).ProducesProblem(429);
    }

    private static IResult Answer(Changed changed, int status = 200) => changed.Person is { } person
        ? Results.Json(new { id = person.Id, displayName = person.DisplayName, roles = person.Roles, lapsedAt = person.LapsedAt, password = changed.Password, pin = changed.Pin }, statusCode: status)
        : Problems.Result(changed.Problem!);
}
