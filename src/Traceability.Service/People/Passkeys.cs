using System.Net;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Fido2NetLib;
using Fido2NetLib.Objects;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.WebUtilities;
using Npgsql;
using Traceability.Core.Events;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>A passkey of a person (WebAuthn): what it is known by and its public key. The private key never leaves the person's device.</summary>
/// <param name="Id">Credential id, base64url.</param>
/// <param name="PublicKey">COSE key, base64url.</param>
/// <param name="Name">What its owner calls it.</param>
/// <param name="Domain">Host name that it is bound to; under another it is no passkey. Null of one that was added before names were kept: the browser knows it.</param>
public sealed record Passkey(string Id, string PublicKey, string Name, DateTimeOffset AddedAt, string? Domain = null)
{
    /// <summary>SHA-256 of the COSE key, lower-case hex: by this records name it.</summary>
    public string KeySha256() => Convert.ToHexStringLower(SHA256.HashData(WebEncoders.Base64UrlDecode(PublicKey)));
}

/// <param name="Domain">Host name that passkeys are bound to (Passkeys:Domain); null where there are none.</param>
/// <param name="Required">Whether administrators and those who decide need one to do more than read (Passkeys:Required).</param>
public sealed record PasskeySettings(string? Domain, bool Required)
{
    /// <exception cref="SettingException">The domain is no host name, or passkeys are required and none is named.</exception>
    public static PasskeySettings Of(IConfiguration configuration)
    {
        var (domain, required) = (configuration["Passkeys:Domain"], configuration.GetValue("Passkeys:Required", false));
        if (string.IsNullOrEmpty(domain))
            return required ? throw new SettingException("Passkeys:Required is set and Passkeys:Domain is not. Name the host under which people open the pages, for example trace.plant.example.") : new(null, false);
        if (Uri.CheckHostName(domain) != UriHostNameType.Dns) throw new SettingException($"Passkeys:Domain: '{domain}' is not a host name. Browsers bind a passkey to a name, never to an address; write it like trace.plant.example, without https:// and without a port.");
        return new(domain.ToLowerInvariant(), required);
    }

    /// <summary>Whether a person needs a passkey to do more than read.</summary>
    public bool Demands(Person person) => Required && !Asks(person) && person.Roles.Concat(person.WaitingRoles).Intersect(Roles.Deciding.Append(Roles.Administrator)).Any();

    /// <summary>Whether a person signs in with one: whoever has one is always asked for it.</summary>
    public bool Asks(Person person) => Of(person).Any();

    /// <summary>A person's passkeys under the name in force.</summary>
    public IEnumerable<Passkey> Of(Person person) => Domain is null ? [] : person.Passkeys.Where(k => (k.Domain ?? Domain) == Domain);

    /// <summary>Whether a page was opened under the name that passkeys are bound to.</summary>
    public bool Fits(HttpRequest request) => Domain is not null && (string.Equals(request.Host.Host, Domain, StringComparison.OrdinalIgnoreCase) || request.Host.Host.EndsWith("." + Domain, StringComparison.OrdinalIgnoreCase));
}

/// <summary>
/// Passkeys beside the password (W3C Web Authentication, Level 2): what somebody has, beside what somebody knows. What a browser is asked to sign is kept
/// until it is answered, so that an answer holds once, for one person and purpose, and in every process.
/// </summary>
public sealed class Passkeys(PasskeySettings settings, NpgsqlDataSource source, Register register, SecurityLog security, TimeProvider clock, ScenarioClock? scenario = null)
{
    /// <summary>How long a browser has to answer. W3C Web Authentication, 15.1, recommends 5 to 10 minutes where the user is verified.</summary>
    private static readonly TimeSpan Holds = TimeSpan.FromMinutes(5);

    /// <summary>Passkeys of one person. Our own choice: one in use, one in reserve, and some that were forgotten.</summary>
    public const int Most = 5;

    private const string Adding = "add", SigningIn = "sign-in";

    public PasskeySettings Settings => settings;

    /// <summary>What the browser makes a new passkey from, as JSON.</summary>
    public async Task<string> AskNewAsync(Person person, HttpRequest request, CancellationToken cancel)
    {
        var options = Library(request).RequestNewCredential(new RequestNewCredentialParams
        {
            // The id, never the name: an authenticator shows it to whoever holds it.
            User = new Fido2User { Id = Encoding.UTF8.GetBytes(person.Id), Name = person.Id, DisplayName = person.Id },
            ExcludeCredentials = [.. settings.Of(person).Select(Descriptor)],
            AuthenticatorSelection = new AuthenticatorSelection { ResidentKey = ResidentKeyRequirement.Preferred, UserVerification = UserVerificationRequirement.Preferred },
            AttestationPreference = AttestationConveyancePreference.None,
        });
        await KeepAsync(options.Challenge, person, Adding, options.ToJson(), cancel);
        return options.ToJson();
    }

    /// <summary>Checks what the browser answered.</summary>
    /// <returns>The passkey, or the problem in words.</returns>
    public async Task<(Passkey? Passkey, ProblemDetails? Problem)> MadeAsync(Person person, string? name, string? answer, HttpRequest request, CancellationToken cancel)
    {
        try
        {
            var made = JsonSerializer.Deserialize<AuthenticatorAttestationRawResponse>(answer ?? "") ?? throw new JsonException();
            if (await TakeAsync(ChallengeOf(made.Response.ClientDataJson), Adding, cancel) is not { } asked || asked.Person != person.Id || asked.Stamp != person.Stamp) return (null, Old);
            var credential = await Library(request).MakeNewCredentialAsync(new MakeNewCredentialParams
            {
                AttestationResponse = made,
                OriginalOptions = CredentialCreateOptions.FromJson(asked.Options),
                IsCredentialIdUniqueToUserCallback = (unique, _) => Task.FromResult(!register.People.Any(p => p.Passkeys.Any(k => k.Id == WebEncoders.Base64UrlEncode(unique.CredentialId)))),
            }, cancel);
            return (new Passkey(WebEncoders.Base64UrlEncode(credential.Id), WebEncoders.Base64UrlEncode(credential.PublicKey), name is { Length: > 0 } ? name : "passkey", clock.GetUtcNow(), settings.Domain!), null);
        }
        catch (Exception e) when (IsOfTheAnswer(e))
        {
            return (null, Problems.Of(422, "passkey", "The passkey was not taken", "What the browser or the key answered does not fit what was asked. Try again; take another key or browser if it stays so."));
        }
    }

    /// <summary>What the browser signs with a passkey of a person whose password was right, as JSON.</summary>
    public async Task<string> AskAsync(Person person, HttpRequest request, CancellationToken cancel)
    {
        var options = Library(request).GetAssertionOptions(new GetAssertionOptionsParams { AllowedCredentials = [.. settings.Of(person).Select(Descriptor)], UserVerification = UserVerificationRequirement.Preferred });
        await KeepAsync(options.Challenge, person, SigningIn, options.ToJson(), cancel);
        return options.ToJson();
    }

    /// <summary>The person whose password was right a moment ago and whose passkey signed now.</summary>
    public async Task<Signed> SignedAsync(string? answer, HttpRequest request, CancellationToken cancel)
    {
        string? id = null;
        try
        {
            var assertion = JsonSerializer.Deserialize<AuthenticatorAssertionRawResponse>(answer ?? "") ?? throw new JsonException();
            if (await TakeAsync(ChallengeOf(assertion.Response.ClientDataJson), SigningIn, cancel) is not { } asked) return new(null, Old);
            id = asked.Person;
            if (register.Person(id) is not { } person || person.Stamp != asked.Stamp || person.LapsedAt <= clock.GetUtcNow()) return new(null, Old);
            if (settings.Of(person).FirstOrDefault(k => k.Id == WebEncoders.Base64UrlEncode(assertion.RawId)) is not { } passkey) return Refused(id);
            var used = await Library(request).MakeAssertionAsync(new MakeAssertionParams
            {
                AssertionResponse = assertion,
                OriginalOptions = AssertionOptions.FromJson(asked.Options),
                StoredPublicKey = WebEncoders.Base64UrlDecode(passkey.PublicKey),
                StoredSignatureCounter = 0,
                IsUserHandleOwnerOfCredentialIdCallback = (owner, _) => Task.FromResult(Encoding.UTF8.GetString(owner.UserHandle) == person.Id),
            }, cancel);
            if (!await CountsOnAsync(passkey, used.SignCount, cancel)) return Refused(id);
            security.Secret("passkey", id, null);
            return new(person, null);
        }
        catch (Exception e) when (IsOfTheAnswer(e))
        {
            return Refused(id);
        }
    }

    // An answer comes from outside, and the library says in many ways that it cannot be read; only what is ours is not the answer's fault.
    private static bool IsOfTheAnswer(Exception e) => e is not (OperationCanceledException or NpgsqlException or OutOfMemoryException);

    private Signed Refused(string? id)
    {
        var problem = Problems.Of(401, "passkey", "Not signed", "The passkey does not fit. Sign in again with the security key or the device that you added on the account page.");
        security.Secret("passkey", id, problem.Title);
        return new(null, problem);
    }

    private static ProblemDetails Old => Problems.Of(401, "passkey-old", "Expired", $"This request expired or was already used. Start over; you have {Holds.TotalMinutes:0} minutes.");

    // Authenticators that count begin above zero and never count back; those that do not always say zero (W3C Web Authentication, 6.1.1).
    private async Task<bool> CountsOnAsync(Passkey passkey, uint count, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("""
            insert into trace.passkey_use as u (credential, count, used_at) values ($1, $2, $3)
            on conflict (credential) do update set count = excluded.count, used_at = excluded.used_at where excluded.count > u.count or (excluded.count = 0 and u.count = 0)
            """);
        foreach (var value in new object[] { passkey.Id, (long)count, Moment.UtcDateTime }) command.Parameters.Add(new() { Value = value });
        return await command.ExecuteNonQueryAsync(cancel) == 1;
    }

    private async Task KeepAsync(byte[] challenge, Person person, string purpose, string options, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("with swept as (delete from trace.passkey_challenge where until < $7) insert into trace.passkey_challenge (challenge, person, purpose, stamp, options, until) values ($1, $2, $3, $4, $5, $6)");
        foreach (var value in new object[] { WebEncoders.Base64UrlEncode(challenge), person.Id, purpose, person.Stamp, options, (Moment + Holds).UtcDateTime, Moment.UtcDateTime }) command.Parameters.Add(new() { Value = value });
        await command.ExecuteNonQueryAsync(cancel);
    }

    private sealed record Asked(string Person, string Stamp, string Options);

    private async Task<Asked?> TakeAsync(string challenge, string purpose, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("delete from trace.passkey_challenge where challenge = $1 and purpose = $2 and until >= $3 returning person, stamp, options");
        foreach (var value in new object[] { challenge, purpose, Moment.UtcDateTime }) command.Parameters.Add(new() { Value = value });
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? new(row.GetString(0), row.GetString(1), row.GetString(2)) : null;
    }

    private static string ChallengeOf(byte[] clientData)
    {
        using var document = JsonDocument.Parse(clientData);
        return document.RootElement.GetProperty("challenge").GetString() ?? throw new JsonException();
    }

    // The browser says under which origin it signed; it must be the one that this request came to.
    private Fido2 Library(HttpRequest request) => new(new Fido2Configuration
    {
        RPID = settings.Domain ?? throw new InvalidOperationException("passkeys are not set up"),
        RPName = settings.Domain,
        Origins = new HashSet<string> { $"{request.Scheme}://{request.Host}" },
    });

    private static PublicKeyCredentialDescriptor Descriptor(Passkey passkey) => new(WebEncoders.Base64UrlDecode(passkey.Id));

    // A demonstration's clock leaps over weeks; the people before it do not.
    private DateTimeOffset Moment => clock.GetUtcNow() - (scenario?.Offset ?? TimeSpan.Zero);
}
