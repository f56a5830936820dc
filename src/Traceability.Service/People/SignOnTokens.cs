using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Microsoft.AspNetCore.WebUtilities;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>
/// Proof that a person gave badge and PIN at a device a short while ago. Made at the sign-on, sent with that person's acts. It names person, device and moment, and
/// is bound to the person's secrets and roles of then: a new secret, a changed role or a lapse ends it. Nothing of it is stored, so that intake needs
/// no database to check it.
/// </summary>
public sealed class SignOnTokens(Secrets secrets, Register register, TimeProvider clock, ScenarioClock? scenario = null)
{
    /// <summary>The header of a request that carries tokens: one for each person whose acts it brings, with commas between.</summary>
    public const string Header = "X-Sign-On";

    /// <summary>How long a sign-on proves acts. Our own choice: half a shift.</summary>
    public static readonly TimeSpan Holds = TimeSpan.FromHours(4);

    /// <summary>Tokens looked at in one request. Our own choice: a station has fewer people.</summary>
    public const int Most = 32;

    private const string Purpose = "sign-on", KnownPurpose = "known-at-kiosk";

    /// <summary>Makes the token of a person who just signed on at a device.</summary>
    public string Issue(Person person, string device)
    {
        var said = string.Create(CultureInfo.InvariantCulture, $"{person.Id}\n{device}\n{Moment.ToUnixTimeSeconds()}");
        return WebEncoders.Base64UrlEncode(Encoding.UTF8.GetBytes(said)) + "." + WebEncoders.Base64UrlEncode(secrets.Code(Purpose, said + "\n" + person.Stamp));
    }

    /// <summary>By what a kiosk asks later whether the person is still the one who signed on: it ends with any change of roles or secrets, and proves nothing.</summary>
    public string Known(Person person, string device) => WebEncoders.Base64UrlEncode(secrets.Code(KnownPurpose, $"{person.Id}\n{device}\n{person.Stamp}"));

    /// <summary>Whether nothing of the person changed since <see cref="Known"/> was told to the device.</summary>
    public bool IsStillKnown(string? id, string device, string? known)
    {
        if (register.Person(id ?? "") is not { } person || person.LapsedAt <= clock.GetUtcNow()) return false;
        return CryptographicOperations.FixedTimeEquals(Encoding.UTF8.GetBytes(Known(person, device)), Encoding.UTF8.GetBytes(known ?? ""));
    }

    /// <summary>The people whom a request's tokens prove at a device, now.</summary>
    public IReadOnlySet<string> Proved(IEnumerable<string?> headers, string device)
    {
        var proved = new HashSet<string>(StringComparer.Ordinal);
        foreach (var token in headers.SelectMany(h => (h ?? "").Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)).Take(Most))
        {
            if (token.Length <= 1000 && PersonOf(token, device) is { } person) proved.Add(person);
        }

        return proved;
    }

    private string? PersonOf(string token, string device)
    {
        byte[] code;
        string said;
        try
        {
            var parts = token.Split('.');
            if (parts.Length != 2) return null;
            (said, code) = (Encoding.UTF8.GetString(WebEncoders.Base64UrlDecode(parts[0])), WebEncoders.Base64UrlDecode(parts[1]));
        }
        catch (FormatException)
        {
            return null;
        }

        var lines = said.Split('\n');
        if (lines.Length != 3 || lines[1] != device || !long.TryParse(lines[2], NumberStyles.None, CultureInfo.InvariantCulture, out var at)) return null;
        var age = Moment.ToUnixTimeSeconds() - at;
        if (age < -60 || age > Holds.TotalSeconds || register.Person(lines[0]) is not { } person || person.LapsedAt <= clock.GetUtcNow()) return null;
        return secrets.IsCode(Purpose, said + "\n" + person.Stamp, code) ? person.Id : null;
    }

    // A demonstration's clock leaps over weeks; the people before it do not.
    private DateTimeOffset Moment => clock.GetUtcNow() - (scenario?.Offset ?? TimeSpan.Zero);
}
