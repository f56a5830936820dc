using System.Net;
using Microsoft.AspNetCore.Mvc;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>What came of a secret that was shown: the person, or the problem in words.</summary>
public readonly record struct Signed(Person? Person, ProblemDetails? Problem);

/// <summary>
/// Checks passwords and PINs, and stops guessing (<see cref="Attempts"/>). Who is not in the register costs as long as who is, so that ids cannot be
/// told by the clock. Anybody who knows a person's id can keep that person from signing on for a while; the answer says how long.
/// </summary>
public sealed class Signing(Register register, Secrets secrets, Attempts attempts, SecurityLog security, TimeProvider clock, ScenarioClock? scenario = null)
{
    /// <summary>How long a password that was given holds unused. Our own choice: a shift's week away, and the next.</summary>
    public static readonly TimeSpan GivenHolds = TimeSpan.FromDays(14);

    /// <summary>Signs in with a password.</summary>
    /// <param name="from">The address that asks; null when there is none.</param>
    public Signed Password(string? id, string? password, IPAddress? from = null)
    {
        var signed = Check(id, "password", password, p => p.PasswordHash, from is null ? [] : [AttemptCount.Address(from)], 401, "sign-in",
            "The person id or the password is not right, or the person's roles have lapsed.");
        return signed.Person is { PinIsGiven: true, GivenAt: { } given } && Moment - given > GivenHolds
            ? new(null, Problems.Of(401, "given-expired", "The given password is too old", $"This password was given more than {GivenHolds.TotalDays:0} days ago and was never changed. Ask an administrator for a new one."))
            : signed;
    }

    /// <summary>Signs on at a kiosk with badge and PIN.</summary>
    public Signed Badge(string? id, string? pin, string? device = null) =>
        Pin(id, pin, device is null ? [] : [AttemptCount.Device(device)], 401, "sign-on", "Badge and PIN do not match, or the roles of this badge have lapsed. Check both and try again.");

    /// <summary>Signs a decision with the PIN of a person at this moment.</summary>
    /// <param name="asker">The signed-on person, where the PIN is another's.</param>
    public Signed Pin(string? id, string? pin, string? asker = null) =>
        Pin(id, pin, asker is null ? [] : [AttemptCount.Asker(asker)], 403, "pin", "The PIN is not right. A decision is signed with the PIN of the person it names. Nothing was recorded.");

    private Signed Pin(string? id, string? pin, IReadOnlyList<AttemptCount> by, int status, string type, string wrong) =>
        register.Person(id ?? "") is { } known && !(known.LapsedAt <= clock.GetUtcNow()) && (known.PinIsGiven || known.OnlyWaits)
            ? new(null, known.PinIsGiven ? GivenPin(known) : Waits(known)) : Check(id, "pin", pin, p => p.PinHash, by, status, type, wrong);

    /// <summary>What those are told whose secrets were given to them.</summary>
    public static ProblemDetails GivenPin(Person person) => Problems.Of(403, "pin-given", "Choose your own password and PIN first",
        $"{person.Id} has only the first password, which was given and signs nothing. Sign in with it, choose your own password and PIN on the account page (/account), then sign with that PIN. Nothing was recorded.");

    /// <summary>What those are told whose roles wait for a second person.</summary>
    public static ProblemDetails Waits(Person person) => Problems.Of(403, "second-person", "Your role waits for a second person",
        $"{person.Id} is to be {string.Join(", ", person.WaitingRoles.Select(r => r.Replace('-', ' ')))}: a quality engineer or second approver confirms that on the page Waiting for me. Until then you can read and nothing else. Nothing was recorded.");

    private Signed Check(string? id, string kind, string? secret, Func<Person, string> hash, IReadOnlyList<AttemptCount> by, int status, string type, string wrong)
    {
        var signed = Look(id, kind, secret, hash, by, status, type, wrong);
        security.Secret(kind, id, signed.Problem?.Title);
        return signed;
    }

    private Signed Look(string? id, string kind, string? secret, Func<Person, string> hash, IReadOnlyList<AttemptCount> by, int status, string type, string wrong)
    {
        if (!register.IsRead) return new(null, Problems.Of(503, "register-away", "Devices and people are not known yet", "The database does not answer, and there is no good copy of the register. Try again in a minute; nothing was recorded."));
        var person = register.Person(id ?? "");
        IReadOnlyList<AttemptCount> counts = [AttemptCount.Person(kind, id, person is not null), .. by];
        if (attempts.Take(counts) is { } wait)
            return new(null, Problems.Of(429, kind + "-tries", "Too many wrong tries", $"Too many wrong tries for this {kind}. Try again in {Words(wait)}. Nothing was changed."));
        if (!secrets.Fits(person is null ? null : hash(person), secret ?? "") || person is null || person.LapsedAt <= clock.GetUtcNow())
        {
            return new(null, person is not null && secrets.KeyIsLost(hash(person))
                ? Problems.Of(503, "secrets-key", "The key of the secrets is missing", "The service was started with another key file than the one this password or PIN was hashed with. Nothing was recorded. Tell the administrator; docs/operations.md says how to put the key back.")
                : Problems.Of(status, type, "Not signed", wrong));
        }

        attempts.WasRight(counts);
        if (secrets.IsOld(hash(person))) register.Rehash(person.Id, kind == "pin", hash(person), secrets.Hash(secret!));
        return new(person, null);
    }

    private static string Words(TimeSpan wait) => Math.Ceiling(wait.TotalMinutes) is var minutes && minutes > 1 ? $"{minutes} minutes" : "a minute";

    // A demonstration's clock leaps over weeks; the people before it do not.
    private DateTimeOffset Moment => clock.GetUtcNow() - (scenario?.Offset ?? TimeSpan.Zero);
}
