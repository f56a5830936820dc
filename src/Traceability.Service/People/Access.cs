using System.Globalization;
using System.Security.Claims;
using System.Security.Cryptography;
using System.Text;
using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authentication.Cookies;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.Extensions.Options;
using Traceability.Core.Events;

namespace Traceability.Service.People;

/// <summary>Policies of the endpoints. Every endpoint names one; the fallback refuses.</summary>
public static class Access
{
    public const string DeviceScheme = "Device";

    /// <summary>A station's device with its key or signature.</summary>
    public const string Device = "device";

    /// <summary>Any signed-on person, the auditor included.</summary>
    public const string Read = "read";

    /// <summary>A signed-on person or a device.</summary>
    public const string ReadOrDevice = "read-or-device";

    /// <summary>Plant inspector or quality engineer.</summary>
    public const string Release = "release";

    public const string QualityEngineer = "quality-engineer";

    public const string Administrator = "administrator";

    public static void AddAccess(this IServiceCollection services)
    {
        services.AddAuthentication(CookieAuthenticationDefaults.AuthenticationScheme)
            .AddCookie(o =>
            {
                o.Cookie.Name = "trace-session";
                o.Cookie.SameSite = SameSiteMode.Strict;
                o.Cookie.HttpOnly = true;
                o.ExpireTimeSpan = TimeSpan.FromHours(10);
                o.LoginPath = "/sign-in";
                o.AccessDeniedPath = "/not-allowed";
                o.ReturnUrlParameter = "then";
                // An API caller gets a status, a page's visitor the sign-in form.
                o.Events.OnRedirectToLogin = c => Redirect(c, StatusCodes.Status401Unauthorized);
                o.Events.OnRedirectToAccessDenied = c => Redirect(c, StatusCodes.Status403Forbidden);
                o.Events.OnValidatePrincipal = Revalidate;
            })
            .AddScheme<AuthenticationSchemeOptions, DeviceAuthentication>(DeviceScheme, null);
        services.AddAuthorizationBuilder()
            .AddPolicy(Device, p => p.AddAuthenticationSchemes(DeviceScheme).RequireAuthenticatedUser())
            .AddPolicy(Read, p => p.RequireAuthenticatedUser())
            .AddPolicy(ReadOrDevice, p => p.AddAuthenticationSchemes(CookieAuthenticationDefaults.AuthenticationScheme, DeviceScheme).RequireAuthenticatedUser())
            .AddPolicy(Release, p => p.RequireRole(Roles.PlantInspector, Roles.QualityEngineer))
            .AddPolicy(QualityEngineer, p => p.RequireRole(Roles.QualityEngineer))
            .AddPolicy(Administrator, p => p.RequireRole(Roles.Administrator))
            .SetFallbackPolicy(new Microsoft.AspNetCore.Authorization.AuthorizationPolicyBuilder(CookieAuthenticationDefaults.AuthenticationScheme).RequireAuthenticatedUser().Build());
    }

    public static ClaimsPrincipal Principal(Person person) => new(new ClaimsIdentity(
        [new(ClaimTypes.NameIdentifier, person.Id), .. person.Roles.Select(r => new Claim(ClaimTypes.Role, r))], CookieAuthenticationDefaults.AuthenticationScheme));

    /// <summary>The signed-on person's id.</summary>
    public static string PersonId(this ClaimsPrincipal user) => user.FindFirstValue(ClaimTypes.NameIdentifier)!;

    // Roles taken away or a person erased since sign-in end the session at the next request.
    private static Task Revalidate(CookieValidatePrincipalContext context)
    {
        var register = context.HttpContext.RequestServices.GetRequiredService<Register>();
        var clock = context.HttpContext.RequestServices.GetRequiredService<TimeProvider>();
        var person = context.Principal?.FindFirstValue(ClaimTypes.NameIdentifier) is { } id ? register.Person(id) : null;
        if (person is null || person.LapsedAt <= clock.GetUtcNow())
        {
            context.RejectPrincipal();
        }
        else
        {
            context.ReplacePrincipal(Principal(person));
        }

        return Task.CompletedTask;
    }

    private static Task Redirect(RedirectContext<CookieAuthenticationOptions> context, int status)
    {
        if (context.Request.Path.StartsWithSegments("/v1", StringComparison.Ordinal)) context.Response.StatusCode = status;
        else context.Response.Redirect(context.RedirectUri);
        return Task.CompletedTask;
    }
}

/// <summary>
/// Authenticates a device by its key (<c>X-Device-Key</c>) or by its signature over the exact body
/// (<c>X-Device-Signature</c>: base64 of r||s, ECDSA P-256 with SHA-256); a GET signs "GET path\ntime" with the Unix time in
/// milliseconds beside it in <c>X-Device-Time</c>. A revoked device authenticates and is marked:
/// its facts are quarantined, not lost.
/// </summary>
public sealed class DeviceAuthentication(IOptionsMonitor<AuthenticationSchemeOptions> options, ILoggerFactory logger, UrlEncoder encoder, Register register, TimeProvider clock)
    : AuthenticationHandler<AuthenticationSchemeOptions>(options, logger, encoder)
{
    public const string AssuranceClaim = "assurance";
    public const string RevokedClaim = "revoked";

    /// <summary>How far a reading request's moment may be from the service's clock. Our own choice.</summary>
    private static readonly TimeSpan ReadingSignatureHolds = TimeSpan.FromMinutes(5);

    protected override async Task<AuthenticateResult> HandleAuthenticateAsync()
    {
        if (Request.Headers["X-Device-Id"].ToString() is not { Length: > 0 } id) return AuthenticateResult.NoResult();
        if (register.Device(id) is not { } device) return AuthenticateResult.Fail("unknown device or wrong key");
        string assurance;
        if (Request.Headers["X-Device-Key"].ToString() is { Length: > 0 } key && device.KeyHash is { } hash)
        {
            if (!CryptographicOperations.FixedTimeEquals(Encoding.ASCII.GetBytes(Register.HashKey(key)), Encoding.ASCII.GetBytes(hash)))
                return AuthenticateResult.Fail("unknown device or wrong key");
            assurance = "intake";
        }
        else if (Request.Headers["X-Device-Signature"].ToString() is { Length: > 0 } signature && device.PublicKey is { } publicKey)
        {
            if (!await SignedAsync(publicKey, signature)) return AuthenticateResult.Fail("the signature does not fit the body");
            assurance = "device-key";
        }
        else
        {
            return AuthenticateResult.Fail("send X-Device-Key or X-Device-Signature");
        }

        List<Claim> claims = [new(ClaimTypes.NameIdentifier, device.Id), new(AssuranceClaim, assurance)];
        if (device.RevokedAt is not null) claims.Add(new(RevokedClaim, "true"));
        return AuthenticateResult.Success(new AuthenticationTicket(new ClaimsPrincipal(new ClaimsIdentity(claims, Scheme.Name)), Scheme.Name));
    }

    private async Task<bool> SignedAsync(string publicKey, string signature)
    {
        using var signed = new MemoryStream();
        if (HttpMethods.IsGet(Request.Method))
        {
            // A reading request has no body to sign; what is signed names it and a moment, so that it cannot be used again for long.
            var moment = Request.Headers["X-Device-Time"].ToString();
            if (!long.TryParse(moment, NumberStyles.None, CultureInfo.InvariantCulture, out var milliseconds)) return false;
            if ((clock.GetUtcNow() - DateTimeOffset.FromUnixTimeMilliseconds(milliseconds)).Duration() > ReadingSignatureHolds) return false;
            signed.Write(Encoding.UTF8.GetBytes($"GET {Context.Features.GetRequiredFeature<IHttpRequestFeature>().RawTarget}\n{moment}"));
        }
        else
        {
            Request.EnableBuffering(Intake.IntakeEndpoints.LargestRequest);
            await Request.Body.CopyToAsync(signed, Context.RequestAborted);
            Request.Body.Position = 0;
        }

        try
        {
            using var key = ECDsa.Create();
            key.ImportSubjectPublicKeyInfo(Convert.FromBase64String(publicKey), out _);
            return key.VerifyData(signed.GetBuffer().AsSpan(0, (int)signed.Length), Convert.FromBase64String(signature), HashAlgorithmName.SHA256, DSASignatureFormat.IeeeP1363FixedFieldConcatenation);
        }
        catch (Exception e) when (e is FormatException or CryptographicException)
        {
            return false;
        }
    }
}
