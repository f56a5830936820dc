using System.Security.Cryptography;
using Microsoft.AspNetCore.Mvc;
using Traceability.Core.Events;
using Traceability.Core.People;
using Traceability.Core.Records;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>What came of a change in the register: the person with the first password, which is shown once, or the problem in words.</summary>
public sealed record Changed(Person? Person, string? Password, ProblemDetails? Problem);

/// <summary>
/// The administrator's work on people. First passwords are made here, shown once and kept as hashes; they sign nothing
/// until their owner chose a password and a PIN. Every change is a record; one of roles or secrets ends the sessions opened before it.
/// </summary>
public sealed class PeopleDesk(Register register, Authority authority, Signing signing, Secrets secrets, TimeProvider clock, ScenarioClock? scenario = null)
{
    /// <summary>NIST SP 800-63B, section 5.1.1.2, asks for eight characters at least and 64 to be allowed; twelve is our own choice.</summary>
    private const int ShortestPassword = 12, LongestPassword = 100, LongestName = 60;

    /// <summary>What stands where a name was.</summary>
    public const string Erased = "(name erased)";

    public async Task<Changed> BringInAsync(string? id, string? displayName, IReadOnlyList<string>? roles, string by, CancellationToken cancel)
    {
        id = id?.Trim();
        if (id is not { Length: > 0 and <= 40 } || !Subject.IsId(id, "person")) return Refused("id", "must be an id of 1 to 40 characters that is nobody's name", "Use the plant's numbering, for example p-120; records hold this id for ever.");
        if (register.Person(id) is not null) return Refused("id", "is taken", "Ids are never given again. Take the next one.");
        if (displayName?.Trim() is not { Length: > 0 and <= LongestName } name) return Refused("displayName", $"must be a text of 1 to {LongestName} characters", "Write the name as it is said in the plant.");
        if (Wrong(roles) is { } wrong) return wrong;
        IReadOnlyList<string> asked = [.. roles!.Distinct()];
        var person = Holding(new Person { Id = id, DisplayName = name, PasswordHash = "", PinHash = "", Roles = [] }, asked, [], by);
        return await GiveAsync(person, new PersonRegistered(id, asked, OrNone(person.WaitingRoles)), by, Authority.Session, cancel);
    }

    /// <summary>Gives these roles and no others; roles that lapsed hold again.</summary>
    public async Task<Changed> RolesAsync(string id, IReadOnlyList<string>? roles, string by, string? pin, CancellationToken cancel)
    {
        if (signing.Pin(by, pin).Problem is { } unsigned) return new(null, null, unsigned);
        if (register.Person(id) is not { } person) return Unknown(id);
        if (person.DisplayName == Erased) return Refused("id", "was erased", "Bring the person in again under another id.");
        if (Wrong(roles) is { } wrong) return wrong;
        IReadOnlyList<string> asked = [.. roles!.Distinct()], before = person.LapsedAt is null ? person.Roles : [];
        var changed = Holding(person, asked, before, by) with { LapsedAt = null };
        return await SaveAsync(changed, new PersonRolesSet(id, asked, before, OrNone(changed.WaitingRoles)), by, Authority.Pin, cancel);
    }

    /// <summary>As the second person, lets the roles hold that wait. Only once the person chose password and PIN: whose they are is what is asked.</summary>
    /// <param name="asked">The <see cref="Asked"/> of what was shown: whoever was asked before a new password or another role was asked about something else.</param>
    public async Task<Changed> ConfirmAsync(string id, string? asked, string by, string? pin, CancellationToken cancel)
    {
        if (signing.Pin(by, pin).Problem is { } unsigned) return new(null, null, unsigned);
        var waiting = WaitingFor(id, by);
        return waiting.Person is not { } person ? waiting : Asked(person) != asked ? Meanwhile(id) : await ConfirmedAsync(person, null, by, Authority.Pin, cancel);
    }

    /// <summary>People whose roles wait for a second person, whom this one may confirm or refuse.</summary>
    public IReadOnlyList<Person> WaitingForSecond(string by) =>
        [.. register.People.Where(p => p.WaitingRoles.Count > 0 && p.LapsedAt is null && Others(p, by) is null).OrderBy(p => p.Id, StringComparer.Ordinal)];

    /// <summary>What is confirmed: these roles, with these secrets. Another first password, own choice or role makes it another.</summary>
    public static string Asked(Person person) =>
        Convert.ToHexStringLower(SHA256.HashData(System.Text.Encoding.UTF8.GetBytes($"{person.Stamp}\n{string.Join(',', person.WaitingRoles)}")))[..32];

    private static Changed Meanwhile(string id) => new(null, null, Problems.Of(409, "changed-meanwhile", "This changed",
        $"Roles, password or PIN of {id} changed since the page was opened. Open it again; where a role waits, ask the person again. Nothing was changed."));

    /// <summary>As the second person, takes away the roles that wait.</summary>
    public async Task<Changed> RefuseAsync(string id, string? reason, string by, string? pin, CancellationToken cancel)
    {
        if (reason?.Trim() is not { Length: > 0 and <= 300 } why) return Refused("reason", "must be a text of 1 to 300 characters", "Say why, without a name.");
        if (signing.Pin(by, pin).Problem is { } unsigned) return new(null, null, unsigned);
        if (register.Person(id) is not { } person) return Unknown(id);
        if (person.WaitingRoles.Count == 0) return NothingWaits(id);
        if (Others(person, by) is { } own) return own;
        var left = person with { WaitingRoles = [], AskedBy = null, LapsedAt = person.Roles.Count == 0 ? clock.GetUtcNow() : person.LapsedAt };
        return await SaveAsync(left, new PersonRolesRefused(id, person.WaitingRoles, why), by, Authority.Pin, cancel);
    }

    /// <summary>Lets the roles hold that wait, where no second person is left in the plant; called on the machine, signed by nobody.</summary>
    /// <param name="known">The person as the store has it; null when it has none.</param>
    public async Task<Changed> ConfirmOnMachineAsync(string id, string reason, Person? known, CancellationToken cancel) =>
        known is null ? Unknown(id) : known.WaitingRoles.Count == 0 || known.LapsedAt is not null ? NothingWaits(id) : known.PinIsGiven ? NotChosen(known) : await ConfirmedAsync(known, reason, null, Authority.Machine, cancel);

    private Task<Changed> ConfirmedAsync(Person person, string? reason, string? by, string assurance, CancellationToken cancel) =>
        SaveAsync(person with { Roles = [.. person.Roles, .. person.WaitingRoles], WaitingRoles = [], AskedBy = null }, new PersonRolesConfirmed(person.Id, person.WaitingRoles, reason), by, assurance, cancel);

    private Changed WaitingFor(string id, string by) =>
        register.Person(id) is not { } person ? Unknown(id) : person.WaitingRoles.Count == 0 || person.LapsedAt is not null ? NothingWaits(id) : Others(person, by) ?? (person.PinIsGiven ? NotChosen(person) : new(person, null, null));

    private static Changed NothingWaits(string id) => new(null, null, Problems.Of(409, "nothing-waits", "Nothing waits", $"No role of {id} waits for a second person. Somebody else may have confirmed or refused it."));

    private static Changed NotChosen(Person person) => new(null, null, Problems.Of(409, "not-chosen", "Password and PIN are not yet chosen",
        $"{person.Id} still has the first password, which somebody else knows. Confirm after {person.Id} signed in and chose an own password and PIN."));

    private static Changed? Others(Person person, string by) => by == person.Id || by == person.AskedBy
        ? new(null, null, Problems.Of(403, "second-person", "Another person confirms this", $"{by} {(by == person.Id ? "is the person" : "gave the role or the password")}: a second person confirms it. Nothing was changed.")) : null;

    // Roles that decide are given by two: they wait, unless the person holds them already.
    private static Person Holding(Person person, IReadOnlyList<string> asked, IReadOnlyList<string> held, string by)
    {
        IReadOnlyList<string> waiting = [.. asked.Intersect(Roles.Deciding).Except(held)];
        return person with { Roles = [.. asked.Except(waiting)], WaitingRoles = waiting, AskedBy = waiting.Count > 0 ? by : null };
    }

    private static IReadOnlyList<string>? OrNone(IReadOnlyList<string> roles) => roles.Count > 0 ? roles : null;

    /// <summary>Lets all roles lapse now. What happened before still counts; what happens after is quarantined.</summary>
    public async Task<Changed> LapseAsync(string id, string by, string? pin, CancellationToken cancel)
    {
        if (signing.Pin(by, pin).Problem is { } unsigned) return new(null, null, unsigned);
        if (register.Person(id) is not { } person) return Unknown(id);
        return person.LapsedAt is null ? await SaveAsync(person with { LapsedAt = clock.GetUtcNow(), WaitingRoles = [], AskedBy = null }, new PersonRolesEnded(id), by, Authority.Pin, cancel) : new(person, null, null);
    }

    /// <summary>Ends every session of a person, in browsers and at kiosks; password, PIN and roles stay. For a lost tablet, or a computer left open.</summary>
    public async Task<Changed> EndSessionsAsync(string id, string by, string? pin, CancellationToken cancel)
    {
        if (signing.Pin(by, pin).Problem is { } unsigned) return new(null, null, unsigned);
        // Sessions and sign-ons rest on the stamp, which every saving makes anew.
        return register.Person(id) is { } person ? await SaveAsync(person, new SessionsEnded(id), by, Authority.Pin, cancel) : Unknown(id);
    }

    /// <summary>Gives a new first password; the PIN in use ends. Roles that decide hold again when a second person has asked the owner: who gives a password knows it.</summary>
    public async Task<Changed> SecretsAsync(string id, string by, string? pin, CancellationToken cancel)
    {
        if (signing.Pin(by, pin).Problem is { } unsigned) return new(null, null, unsigned);
        if (register.Person(id) is not { } person) return Unknown(id);
        if (person.DisplayName == Erased) return Refused("id", "was erased", "Bring the person in again under another id.");
        var waiting = person with { Roles = [.. person.Roles.Except(Roles.Deciding)], WaitingRoles = [.. person.WaitingRoles.Union(person.Roles.Intersect(Roles.Deciding))] };
        return await GiveAsync(waiting with { AskedBy = waiting.WaitingRoles.Count > 0 ? by : null }, new SecretGiven(id, OrNone(waiting.WaitingRoles)), by, Authority.Pin, cancel);
    }

    /// <summary>Erases the name and ends everything the person may do. The id stays in the records and names nobody any more.</summary>
    public async Task<Changed> EraseAsync(string id, string by, string? pin, CancellationToken cancel)
    {
        if (signing.Pin(by, pin).Problem is { } unsigned) return new(null, null, unsigned);
        if (register.Person(id) is not { } person) return Unknown(id);
        var gone = await GiveAsync(person with { DisplayName = Erased, Roles = [], WaitingRoles = [], AskedBy = null, LapsedAt = person.LapsedAt ?? clock.GetUtcNow() }, new PersonErased(id), by, Authority.Pin, cancel);
        return gone with { Password = null };
    }

    /// <summary>Gives a lost administrator a new first password, or brings one in; called on the machine, signed by nobody.</summary>
    /// <param name="known">The person as the store has it; null when it has none.</param>
    public async Task<Changed> RecoverAsync(string id, string? displayName, string reason, Person? known, CancellationToken cancel)
    {
        if (known?.DisplayName == Erased) return Refused("id", "was erased", "Name another id and --name.");
        if (known is not null && !known.Roles.Contains(Roles.Administrator, StringComparer.Ordinal)) return Refused("id", "belongs to a person who is not administrator", "Name the administrator, or a new id with --name.");
        if (known is null && (id is not { Length: > 0 and <= 40 } || !Subject.IsId(id, "person"))) return Refused("id", "must be an id of 1 to 40 characters that is nobody's name", "Use the plant's numbering, for example p-120.");
        if (known is null && displayName?.Trim() is not { Length: > 0 and <= LongestName }) return Refused("name", $"must be a text of 1 to {LongestName} characters for an id that is not in the register", "Check the id, or give --name to bring in a new administrator.");
        var person = known is null ? new Person { Id = id, DisplayName = displayName!.Trim(), PasswordHash = "", PinHash = "", Roles = [Roles.Administrator] } : known with { LapsedAt = null, Roles = [Roles.Administrator], WaitingRoles = [], AskedBy = null };
        return await GiveAsync(person, new AdministratorRecovered(id, known is null, reason), null, Authority.Machine, cancel);
    }

    /// <summary>
    /// A person's own choice of secrets, signed with the password in use, and for another PIN with the PIN in use: whoever learns the password gets no PIN with it.
    /// An empty one is left as it is, unless it was given.
    /// </summary>
    public async Task<Changed> ChooseAsync(string id, string? password, string? pin, string? newPassword, string? newPin, CancellationToken cancel, System.Net.IPAddress? from = null)
    {
        var given = register.Person(id) is { PinIsGiven: true };
        if (given && string.IsNullOrEmpty(newPassword)) return Refused("newPassword", "must be there", "The first password was given: choose your own password and PIN together.");
        if (given && string.IsNullOrEmpty(newPin)) return Refused("newPin", "must be there", "Choose your own password and PIN together.");
        if (string.IsNullOrEmpty(newPassword) && string.IsNullOrEmpty(newPin)) return Refused("newPin", "or newPassword must be there", "Choose a new PIN, a new password or both.");
        if (newPassword is { Length: > 0 } && newPassword.Length is < ShortestPassword or > LongestPassword) return Refused("newPassword", $"must have {ShortestPassword} to {LongestPassword} characters", "Take several words.");
        if (newPassword is { Length: > 0 } && Passwords.IsCommon(newPassword, [id, register.Person(id)?.DisplayName ?? ""])) return Refused("newPassword", "must not be one that many people take", "Take several words that do not belong together, and not your name or id.");
        if (newPin is { Length: > 0 } && Pins.Refusal(newPin) is { } common) return Refused("newPin", common, "Take digits that others would not try first.");
        if (newPin is { Length: > 0 } && id.Where(char.IsAsciiDigit).ToArray() is { Length: >= 4 } digits && newPin.Contains(new string(digits), StringComparison.Ordinal)) return Refused("newPin", "must not hold the digits of your id", "Choose other digits.");
        var signed = signing.Password(id, password, from);
        if (signed.Person is not { } person) return new(null, null, signed.Problem);
        if (newPin is { Length: > 0 } && !given && signing.Pin(id, pin).Problem is { } unsigned) return new(null, null, unsigned);
        if (newPin is { Length: > 0 } && person.PinHash.Length > 0 && secrets.Fits(person.PinHash, newPin)) return Refused("newPin", "must be another than the one in use", "Choose other digits.");
        if (newPassword is { Length: > 0 } && newPassword == password) return Refused("newPassword", "must be another than the one in use", "Choose another.");
        return await SaveAsync(person with
        {
            PasswordHash = string.IsNullOrEmpty(newPassword) ? person.PasswordHash : secrets.Hash(newPassword),
            PinHash = string.IsNullOrEmpty(newPin) ? person.PinHash : secrets.Hash(newPin),
            PinIsGiven = false,
            GivenAt = null,
        }, new SecretChosen(id, !string.IsNullOrEmpty(newPassword), !string.IsNullOrEmpty(newPin)), id, Authority.Password, cancel);
    }

    /// <summary>Begins to add a passkey, signed with password and PIN: whoever learns one of them makes no key for the account.</summary>
    public Changed MayAddPasskey(string id, string? password, string? pin, System.Net.IPAddress? from)
    {
        var signed = signing.Password(id, password, from);
        if (signed.Person is not { } person) return new(null, null, signed.Problem);
        if (signing.Pin(id, pin).Problem is { } unsigned) return new(null, null, unsigned);
        return person.Passkeys.Count >= Passkeys.Most ? Refused("passkey", $"must not be more than {Passkeys.Most}", "Remove one that you do not use.") : new(person, null, null);
    }

    /// <summary>Adds a passkey that was begun with <see cref="MayAddPasskey"/>.</summary>
    public Task<Changed> AddPasskeyAsync(Person person, Passkey passkey, CancellationToken cancel) =>
        SaveAsync(person with { Passkeys = [.. person.Passkeys, passkey] }, new PasskeyAdded(person.Id, passkey.KeySha256()), person.Id, Authority.Password, cancel);

    /// <summary>Removes one of one's own passkeys, signed with the password in use.</summary>
    public async Task<Changed> RemovePasskeyAsync(string id, string? passkey, string? password, System.Net.IPAddress? from, CancellationToken cancel)
    {
        if (register.Person(id)?.Passkeys.FirstOrDefault(k => k.Id == passkey) is not { } gone) return Refused("passkey", "must be one of yours", "Open the page again; it may be removed already.");
        var signed = signing.Password(id, password, from);
        return signed.Person is not { } person ? new(null, null, signed.Problem)
            : await SaveAsync(person with { Passkeys = [.. person.Passkeys.Where(k => k != gone)] }, new PasskeyRemoved(id, gone.KeySha256()), id, Authority.Password, cancel);
    }

    private async Task<Changed> GiveAsync(Person person, IAuthorityChange change, string? by, string assurance, CancellationToken cancel)
    {
        // Without characters that are mistaken for each other when read off a screen.
        var password = RandomNumberGenerator.GetString("abcdefghjkmnpqrstuvwxyz23456789", 16);
        // Whoever needs a new password may have lost the passkey with it; others add theirs again.
        var saved = await SaveAsync(register.Give(person with { Passkeys = [] }, password, clock.GetUtcNow() - (scenario?.Offset ?? TimeSpan.Zero)), change, by, assurance, cancel);
        return saved.Person is null ? saved : saved with { Password = password };
    }

    private async Task<Changed> SaveAsync(Person person, IAuthorityChange change, string? by, string assurance, CancellationToken cancel)
    {
        var stamped = person with { Stamp = RandomNumberGenerator.GetHexString(16, lowercase: true) };
        // What ended roles or gave a password while this was looked at is not written over.
        return await authority.ChangeAsync(stamped, person.Stamp, change, by, assurance, cancel) ? new(stamped, null, null) : Meanwhile(person.Id);
    }

    private static Changed? Wrong(IReadOnlyList<string>? roles)
    {
        if (roles is not { Count: > 0 } || roles.Except(Roles.All).Any()) return Refused("roles", "must be roles of this plant: " + string.Join(", ", Roles.All), "Name at least one; let all lapse to take the last away.");
        return roles.Distinct().Count() > 1 && roles.Intersect(Roles.Alone).FirstOrDefault() is { } alone
            ? Refused("roles", $"must not join {alone} with another role", "Who looks over the plant or keeps its keys does not also work in it. Bring in a second person.") : null;
    }

    private static Changed Refused(string field, string limit, string remedy) => new(null, null, Problems.Of(422, "person", "Not changed", $"{field}: {limit}. {remedy}", ("errors", new[] { new { field, limit, remedy } })));

    private static Changed Unknown(string id) => new(null, null, Problems.Of(404, "person-unknown", "No such person", $"'{id}' is not in the register. The people page lists everybody."));
}

/// <summary>What takes nothing but a signature.</summary>
/// <param name="Pin">PIN of the person who is signed on.</param>
public sealed record PinRequest(string Pin);

public static class PeopleEndpoints
{
    public sealed record NewPersonRequest(string Id, string DisplayName, IReadOnlyList<string> Roles);

    /// <param name="Asked">What <c>GET /v1/people/waiting</c> told as <c>asked</c> when the person was asked.</param>
    /// <param name="Pin">PIN of the second person, who is signed on.</param>
    public sealed record ConfirmationRequest(string Asked, string Pin);

    /// <param name="Pin">PIN of the second person, who is signed on.</param>
    public sealed record RefusalRequest(string Reason, string Pin);

    public sealed record RolesRequest(IReadOnlyList<string> Roles, string Pin);

    /// <param name="Password">The password in use.</param>
    /// <param name="Pin">The PIN in use, where another is chosen; null while there is none.</param>
    public sealed record SecretsRequest(string Password, string? NewPassword = null, string? NewPin = null, string? Pin = null);

    public static void MapPeople(this IEndpointRouteBuilder app)
    {
        var people = app.MapGroup("/v1/people").WithTags("People");
        people.MapGet("", async (Register register, SignOns signOns, CancellationToken cancel) =>
            {
                var at = await signOns.AllAsync(cancel);
                return Results.Json(register.People.OrderBy(p => p.Id, StringComparer.Ordinal).Select(p => new { id = p.Id, displayName = p.DisplayName, roles = p.Roles, waitingRoles = p.WaitingRoles, lapsedAt = p.LapsedAt, pinIsGiven = p.PinIsGiven, signedOnAt = at[p.Id] }));
            })
            .RequireAuthorization(Access.People).WithSummary("Everybody in the register, with the kiosks they signed on at lately");
        people.MapPost("", async (NewPersonRequest request, HttpContext http, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.BringInAsync(request.Id, request.DisplayName, request.Roles, http.User.PersonId(), cancel), 201))
            .RequireAuthorization(Access.People).WithSummary("Bring a person in; the answer shows the first password once").ProducesProblem(422);
        people.MapPost("/{id}/roles", async (string id, RolesRequest request, HttpContext http, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.RolesAsync(id, request.Roles, http.User.PersonId(), request.Pin, cancel)))
            .RequireAuthorization(Access.PeopleOfOthers).WithSummary("Give a person these roles and no others; ends their sessions").ProducesProblem(404).ProducesProblem(422);
        people.MapPost("/{id}/lapse", async (string id, PinRequest request, HttpContext http, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.LapseAsync(id, http.User.PersonId(), request.Pin, cancel)))
            .RequireAuthorization(Access.PeopleOfOthers).WithSummary("Let all roles of a person lapse now").ProducesProblem(404);
        people.MapPost("/{id}/end-sessions", async (string id, PinRequest request, HttpContext http, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.EndSessionsAsync(id, http.User.PersonId(), request.Pin, cancel)))
            .RequireAuthorization(Access.PeopleOfOthers).WithSummary("End all sessions of a person, in browsers and at kiosks").ProducesProblem(404);
        people.MapPost("/{id}/secrets", async (string id, PinRequest request, HttpContext http, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.SecretsAsync(id, http.User.PersonId(), request.Pin, cancel)))
            .RequireAuthorization(Access.PeopleOfOthers).WithSummary("Give a person a new first password, shown once; the PIN in use ends").ProducesProblem(404).ProducesProblem(422);
        people.MapPost("/{id}/erasure", async (string id, PinRequest request, HttpContext http, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.EraseAsync(id, http.User.PersonId(), request.Pin, cancel)))
            .RequireAuthorization(Access.PeopleOfOthers).WithSummary("Erase a person's name; the id stays in the records").ProducesProblem(404);
        people.MapGet("/waiting", (PeopleDesk desk, HttpContext http) => Results.Json(desk.WaitingForSecond(http.User.PersonId()).Select(p =>
                new { id = p.Id, displayName = p.DisplayName, waitingRoles = p.WaitingRoles, askedBy = p.AskedBy, pinIsGiven = p.PinIsGiven, asked = PeopleDesk.Asked(p) })))
            .RequireAuthorization(Access.Approve).WithSummary("People whose roles wait for a second person, with what a confirmation names");
        people.MapPost("/{id}/confirmation", async (string id, ConfirmationRequest request, HttpContext http, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.ConfirmAsync(id, request.Asked, http.User.PersonId(), request.Pin, cancel)))
            .RequireAuthorization(Access.Confirm).WithSummary("As the second person, let the roles hold that wait").ProducesProblem(404).ProducesProblem(409);
        people.MapPost("/{id}/refusal", async (string id, RefusalRequest request, HttpContext http, PeopleDesk desk, CancellationToken cancel) => Answer(await desk.RefuseAsync(id, request.Reason, http.User.PersonId(), request.Pin, cancel)))
            .RequireAuthorization(Access.Confirm).WithSummary("As the second person, take away the roles that wait").ProducesProblem(404).ProducesProblem(409).ProducesProblem(422);
        people.MapPost("/{id}/own-secrets", async (string id, SecretsRequest request, PeopleDesk desk, HttpContext http, CancellationToken cancel) => Answer(await desk.ChooseAsync(id, request.Password, request.Pin, request.NewPassword, request.NewPin, cancel, http.Connection.RemoteIpAddress)))
            .RequireAuthorization(Access.Account).WithSummary("Choose one's own password or PIN; ends one's other sessions").ProducesProblem(401).ProducesProblem(422).ProducesProblem(429);
    }

    private static IResult Answer(Changed changed, int status = 200) => changed.Person is { } person
        ? Results.Json(new { id = person.Id, displayName = person.DisplayName, roles = person.Roles, waitingRoles = person.WaitingRoles, lapsedAt = person.LapsedAt, password = changed.Password }, statusCode: status)
        : Problems.Result(changed.Problem!);
}
