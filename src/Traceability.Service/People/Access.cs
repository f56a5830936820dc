using System.Globalization;
using System.Security.Claims;
using System.Security.Cryptography;
using System.Text;
using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authentication.Cookies;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Authorization.Policy;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.Extensions.Options;
using Traceability.Core.Events;
using Traceability.Service.Operations;

namespace Traceability.Service.People;

/// <summary>Actions that endpoints name as their policy; <see cref="WhoMay"/> says who may take each.</summary>
public static class Access
{
    public const string DeviceScheme = "Device";

    public const string Open = "open";
    public const string Read = "read";
    public const string ReadOrDevice = "read-or-device";
    public const string Device = "send-facts";
    public const string Receipts = "receipts";
    public const string Kiosk = "kiosk-sign-on";
    public const string Release = "release";
    public const string QualityEngineer = "packets";
    public const string SetApart = "set-apart";
    public const string Administrator = "devices";
    public const string Scenario = "scenario-clock";

    private const string StampClaim = "stamp";

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
        services.AddSingleton<IAuthorizationMiddlewareResultHandler, RefusalInWords>();
        var authorization = services.AddAuthorizationBuilder();
        foreach (var permission in WhoMay.Table.Where(p => !p.Anyone))
        {
            string[] schemes = permission.Devices ? [CookieAuthenticationDefaults.AuthenticationScheme, DeviceScheme] : [CookieAuthenticationDefaults.AuthenticationScheme];
            if (permission.Roles.Count + permission.Own.Count == 0) schemes = [DeviceScheme];
            authorization.AddPolicy(permission.Action, p => p.AddAuthenticationSchemes(schemes).RequireAuthenticatedUser().RequireAssertion(c => permission.Allows(c.User)));
        }

        authorization.SetFallbackPolicy(new AuthorizationPolicyBuilder(CookieAuthenticationDefaults.AuthenticationScheme).RequireAuthenticatedUser()
            // An address that leads nowhere is not found; an endpoint that names no action is nobody's.
            .RequireAssertion(c => c.Resource is HttpContext http && http.GetEndpoint() is null).Build());
    }

    public static ClaimsPrincipal Principal(Person person) => new(new ClaimsIdentity(
        [new(ClaimTypes.NameIdentifier, person.Id), new(StampClaim, person.Stamp), .. person.Roles.Select(r => new Claim(ClaimTypes.Role, r))], CookieAuthenticationDefaults.AuthenticationScheme));

    /// <summary>The signed-on person's id.</summary>
    public static string PersonId(this ClaimsPrincipal user) => user.FindFirstValue(ClaimTypes.NameIdentifier)!;

    // Roles taken away, a person erased or secrets changed since sign-in end the session at the next request.
    private static Task Revalidate(CookieValidatePrincipalContext context)
    {
        var register = context.HttpContext.RequestServices.GetRequiredService<Register>();
        var clock = context.HttpContext.RequestServices.GetRequiredService<TimeProvider>();
        var person = context.Principal?.FindFirstValue(ClaimTypes.NameIdentifier) is { } id ? register.Person(id) : null;
        if (person is null || person.LapsedAt <= clock.GetUtcNow() || context.Principal!.FindFirstValue(StampClaim) != person.Stamp)
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

/// <summary>Who is signed on and may not is told who may; a page's visitor is led to a page that says so.</summary>
public sealed class RefusalInWords : IAuthorizationMiddlewareResultHandler
{
    private readonly AuthorizationMiddlewareResultHandler _framework = new();

    public Task HandleAsync(RequestDelegate next, HttpContext context, AuthorizationPolicy policy, PolicyAuthorizationResult authorizeResult)
    {
        if (authorizeResult.Forbidden && context.Request.Path.StartsWithSegments("/v1", StringComparison.Ordinal)
            && context.GetEndpoint()?.Metadata.GetMetadata<IAuthorizeData>()?.Policy is { } action && WhoMay.Has(action))
            return Problems.Result(WhoMay.To(action).Refusal(context.User)).ExecuteAsync(context);
        return _framework.HandleAsync(next, context, policy, authorizeResult);
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
