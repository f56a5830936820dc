using System.Net;
using System.Text.Json;
using Traceability.Kiosk.Device;

namespace Traceability.Kiosk.People;

/// <summary>What a PIN is checked against without the service: PBKDF2 with SHA-256, 32 bytes.</summary>
public sealed record OfflineVerifier(string Salt, int Iterations, string Hash);

/// <summary>A person who signed on here before, kept so that they can without a connection.</summary>
public sealed record KnownPerson(
    string Person, string DisplayName, IReadOnlyList<string> Roles, OfflineVerifier Verifier, DateTimeOffset SeenByServiceAt, int WrongPins = 0, DateTimeOffset? WaitUntil = null);

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
            await browser.PutAsync("people", answer.Person, new KnownPerson(answer.Person, answer.DisplayName, answer.Roles, answer.OfflineVerifier, now));
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
            return e.Message;
        }
        catch (Exception e) when (e is HttpRequestException or TaskCanceledException or JsonException)
        {
            return await OfflineAsync(badge, pin);
        }
    }

    public void SignOff() => Set(null);

    private async Task<string?> OfflineAsync(string badge, string pin)
    {
        var now = time.GetUtcNow();
        if (await browser.GetAsync<KnownPerson>("people", badge) is not { } known)
            return "No connection, and this badge has not signed on at this kiosk before. Use a badge that has, or wait for the connection.";
        if (now - known.SeenByServiceAt > OfflineFor)
            return $"No connection, and this badge last signed on with one more than {OfflineFor.Days} days ago. Wait for the connection.";
        if (known.WaitUntil is { } until && now < until)
            return $"Too many wrong PINs. Try again in {Math.Ceiling((until - now).TotalMinutes):0} minutes.";
        var derived = await browser.DeriveAsync(pin, known.Verifier.Salt, known.Verifier.Iterations);
        if (!string.Equals(derived, known.Verifier.Hash, StringComparison.Ordinal))
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

    private sealed record SignOnAnswer(string Person, IReadOnlyList<string> Roles, string DisplayName, OfflineVerifier OfflineVerifier);
}
