using System.Collections.Concurrent;
using Microsoft.AspNetCore.Mvc;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>What came of a secret that was shown: the person, or the problem in words.</summary>
public readonly record struct Signed(Person? Person, ProblemDetails? Problem);

/// <summary>
/// Checks passwords and PINs, and stops guessing. Wrong tries are counted by person and kind in the memory of one process: that
/// slows guessing down to a few tries in five minutes for each process that serves pages; a restart forgives. Anybody
/// who knows a person's id can so keep that person from signing on; the answer says until when.
/// </summary>
public sealed class Signing(Register register, TimeProvider clock)
{
    /// <summary>Our own choice.</summary>
    private const int Allowed = 5;

    private static readonly TimeSpan Wait = TimeSpan.FromMinutes(5);

    // Somebody nobody is: who is not in the register costs as long as who is, so that ids cannot be told by the clock.
    private static readonly Person Nobody = Register.NewPerson("", "", Guid.CreateVersion7().ToString(), Guid.CreateVersion7().ToString(), []);

    private readonly ConcurrentDictionary<(string Person, string Kind), (int Wrong, DateTimeOffset Last)> _tries = new();

    /// <summary>Signs in with a password.</summary>
    public Signed Password(string? id, string? password) => Check(id, "password", password, Register.PasswordIs, 401, "sign-in",
        "The person id or the password is not right, or the person's roles have lapsed.");

    /// <summary>Signs on at a kiosk with badge and PIN.</summary>
    public Signed Badge(string? id, string? pin)
    {
        var signed = Check(id, "pin", pin, Register.PinIs, 401, "sign-on", "Badge and PIN do not match, or the roles of this badge have lapsed. Check both and try again.");
        return signed.Person is { PinIsGiven: true } ? new(null, GivenPin) : signed;
    }

    /// <summary>Signs a decision with the PIN of a person at this moment.</summary>
    public Signed Pin(string? id, string? pin)
    {
        var signed = Check(id, "pin", pin, Register.PinIs, 403, "pin", "The PIN is not right. A decision is signed with the PIN of the person it names. Nothing was recorded.");
        return signed.Person is { PinIsGiven: true } ? new(null, GivenPin) : signed;
    }

    private static ProblemDetails GivenPin => Problems.Of(403, "pin-given", "Choose your own PIN first",
        "This PIN was given by an administrator and signs nothing. Choose your own on the account page (/account), then sign with that.");

    private Signed Check(string? id, string kind, string? secret, Func<Person, string, bool> fits, int status, string type, string wrong)
    {
        var now = clock.GetUtcNow();
        var key = (id ?? "", kind);
        if (_tries.TryGetValue(key, out var tries) && tries.Wrong >= Allowed && now < tries.Last + Wait)
        {
            var until = tries.Last + Wait;
            return new(null, Problems.Of(429, kind + "-tries", "Too many wrong tries", $"Too many wrong tries for this {kind}. Try again in {Math.Ceiling((until - now).TotalMinutes)} minutes, after {until:HH:mm:ss} UTC. Nothing was changed."));
        }

        var person = register.Person(id ?? "");
        if (fits(person ?? Nobody, secret ?? "") && person is not null && !(person.LapsedAt <= now))
        {
            _tries.TryRemove(key, out _);
            return new(person, null);
        }

        _tries.AddOrUpdate(key, (1, now), (_, t) => now > t.Last + Wait ? (1, now) : (t.Wrong + 1, now));
        return new(null, Problems.Of(status, type, "Not signed", wrong));
    }
}
