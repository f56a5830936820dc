using System.Net;
using System.Text.Json;
using Traceability.Kiosk.Device;

namespace Traceability.Kiosk.People;

/// <summary>What a PIN is checked against without the service. Made by this browser with a key that no script can read out; whoever copies the whole profile folder has the key too.</summary>
public sealed record PinCheck(string Salt, int Iterations, string Value);

/// <summary>A person who signed on here before, kept so that they can without a connection.</summary>
/// <param name="Known">By what the service says whether the person is still the one who signed on.</param>
/// <param name="Check">Null in what an earlier version of this kiosk kept, which is good for nothing any more.</param>
public sealed record KnownPerson(
    string Person, string DisplayName, IReadOnlyList<string> Roles, PinCheck? Check, string Known, DateTimeOffset SeenByServiceAt, int WrongPins = 0, DateTimeOffset? WaitUntil = null);

/// <param name="Assurance">"pin" when the service checked the PIN, "pin-offline" when this kiosk did.</param>
public sealed record SignedOn(string Person, string DisplayName, IReadOnlyList<string> Roles, string Assurance, DateTimeOffset Since)
{
    public bool Has(string role) => Roles.Contains(role);
}

/// <summary>Who is signed on at this kiosk. Kept in memory only: a restart signs everyone off.</summary>
public sealed class Session(Service service, Browser browser, TimeProvider time)
{
    /// <summary>How long a person may sign on without the service after it last knew them. Our own choice.</summary>
    public static readonly TimeSpan OfflineFor = TimeSpan.FromDays(7);

    /// <summary>Wrong PINs in a row before this kiosk makes a person wait. Our own choice.</summary>
    public const int PinTries = 5;

    public static readonly TimeSpan WaitAfterTries = TimeSpan.FromMinutes(5);

    /// <summary>OWASP's recommendation for PBKDF2-HMAC-SHA256 is 600,000 rounds; a kiosk's processor takes about a second for it.</summary>
    public const int PinRounds = 600_000;

    /// <summary>How often the service is asked whom to forget. Our own choice.</summary>
    private static readonly TimeSpan AskAgainAfter = TimeSpan.FromMinutes(1);

    private DateTimeOffset _askedAt;

    public SignedOn? Person { get; private set; }

    /// <summary>Nobody touched the kiosk for a while: the person has to give the PIN again before it goes on.</summary>
    public bool Locked { get; private set; }

    public event Action? Changed;

    /// <returns>Null when signed on, else what is wrong, for the person to read.</returns>
    public async Task<string?> SignOnAsync(string badge, string pin)
    {
        try
        {
            var answer = await service.PostAsync<SignOnAnswer>("/v1/kiosk/sign-on", new { person = badge, pin });
            var now = time.GetUtcNow();
            var salt = await browser.RandomAsync(16);
            var check = new PinCheck(salt, PinRounds, await browser.DeriveAsync(pin, salt, PinRounds));
            await browser.PutAsync("people", answer.Person, new KnownPerson(answer.Person, answer.DisplayName, answer.Roles, check, answer.Known, now));
            Set(new SignedOn(answer.Person, answer.DisplayName, answer.Roles, "pin", now));
            return null;
        }
        catch (ServiceRefusedException e) when (e.Status is HttpStatusCode.BadGateway or HttpStatusCode.ServiceUnavailable or HttpStatusCode.GatewayTimeout)
        {
            return await OfflineAsync(badge, pin);
        }
        catch (ServiceRefusedException e)
        {
            // The service's word counts: someone it no longer knows must not sign on here after the cable is pulled.
            if (e.Status is HttpStatusCode.Forbidden or HttpStatusCode.NotFound) await browser.RemoveAsync("people", badge);
            else if (e.Status == HttpStatusCode.Unauthorized) _askedAt = default;
            return e.Message;
        }
        catch (Exception e) when (e is HttpRequestException or TaskCanceledException or JsonException)
        {
            return await OfflineAsync(badge, pin);
        }
    }

    public void SignOff() => Set(null);

    /// <summary>
    /// Names of those who signed on here. Looked for in what is typed: without the service too, and without giving a device a way to ask who is in the register.
    /// </summary>
    public async Task<IReadOnlyList<string>> NamesAsync() => [.. (await browser.AllAsync<KnownPerson>("people")).Select(p => p.DisplayName)];

    /// <summary>
    /// Asks the service which of those who signed on here are no longer who they were, and forgets them: their roles ended or changed, or they have another
    /// PIN. Whoever of them stands here now is signed off.
    /// </summary>
    /// <param name="now">Whether to ask even if the last time is not long ago: the connection was just made.</param>
    public async Task ForgetWhoLeftAsync(bool now)
    {
        if (!now && time.GetUtcNow() - _askedAt < AskAgainAfter) return;
        var known = await browser.AllAsync<KnownPerson>("people");
        foreach (var old in known.Where(k => k.Check is null)) await browser.RemoveAsync("people", old.Person);
        var asked = known.Where(k => k.Check is not null).Select(k => new { person = k.Person, known = k.Known }).ToList();
        if (asked.Count > 0)
        {
            foreach (var gone in await GoneAsync(asked.Select(a => a.person), asked))
            {
                // Who signed on anew while the service was asked is not forgotten for what was.
                if (await browser.GetAsync<KnownPerson>("people", gone) is { } here && here.Known != known.First(k => k.Person == gone).Known) continue;
                await browser.RemoveAsync("people", gone);
                if (Person?.Person == gone) SignOff();
            }
        }

        _askedAt = time.GetUtcNow();
    }

    private async Task<IEnumerable<string>> GoneAsync(IEnumerable<string> all, object asked)
    {
        try
        {
            return await service.PostAsync<List<string>>("/v1/kiosk/known", asked);
        }
        catch (ServiceRefusedException e) when (e.Status == HttpStatusCode.Forbidden)
        {
            // A kiosk that was revoked knows nobody; what it still holds is sent and kept apart.
            return all;
        }
    }

    private async Task<string?> OfflineAsync(string badge, string pin)
    {
        var now = time.GetUtcNow();
        // The next contact, however soon, asks whether the person still may.
        _askedAt = default;
        if (await browser.GetAsync<KnownPerson>("people", badge) is not { Check: { } check } known)
            return "No connection, and this badge has not signed on at this kiosk before. Use a badge that has, or wait for the connection.";
        if (now - known.SeenByServiceAt > OfflineFor)
            return $"No connection, and this badge last signed on with one more than {OfflineFor.Days} days ago. Wait for the connection.";
        if (known.WaitUntil is { } until && now < until)
            return $"Too many wrong PINs. Try again in {Math.Ceiling((until - now).TotalMinutes):0} minutes.";
        var derived = await browser.DeriveAsync(pin, check.Salt, check.Iterations);
        if (!string.Equals(derived, check.Value, StringComparison.Ordinal))
        {
            var wrong = known.WrongPins + 1;
            await browser.PutAsync("people", badge, wrong >= PinTries
                ? known with { WrongPins = 0, WaitUntil = now + WaitAfterTries }
                : known with { WrongPins = wrong });
            return "Badge and PIN do not match. Check both and try again.";
        }

        await browser.PutAsync("people", badge, known with { WrongPins = 0, WaitUntil = null });
        Set(new SignedOn(known.Person, known.DisplayName, known.Roles, "pin-offline", now));
        return null;
    }

    public void Lock()
    {
        if (Person is null) return;
        Locked = true;
        Changed?.Invoke();
    }

    private void Set(SignedOn? person)
    {
        Person = person;
        Locked = false;
        Changed?.Invoke();
    }

    private sealed record SignOnAnswer(string Person, IReadOnlyList<string> Roles, string DisplayName, string Known);
}
