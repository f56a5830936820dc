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
    public const string LogEntries = "log-entries";
    public const string FreeText = "free-text";
    public const string Account = "account";
    public const string People = "people";
    public const string PeopleOfOthers = "people-of-others";
    public const string Confirm = "confirm-roles";
    public const string Device = "send-facts";
    public const string Receipts = "receipts";
    public const string Kiosk = "kiosk-sign-on";
    public const string Release = "release";
    public const string Override = "override";
    public const string Correct = "correct";
    public const string Claims = "claims";
    public const string Approve = "approvals";
    public const string Agency = "agency-acts";
    public const string Letters = "letters";
    public const string Inspectors = "inspectors";
    public const string Dispose = "dispositions";
    public const string Lots = "lots";
    public const string Allocate = "allocations";
    public const string Profiles = "profiles";
    public const string QualityEngineer = "packets";
    public const string Integrity = "integrity";
    public const string SetApart = "set-apart";
    public const string Administrator = "devices";
    public const string Scenario = "scenario-clock";

    private const string StampClaim = "stamp";

    public static void AddAccess(this IServiceCollection services, string sessionCookie)
    {
        services.AddAuthentication(CookieAuthenticationDefaults.AuthenticationScheme)
            .AddCookie(o =>
            {
                o.Cookie.Name = sessionCookie;
                o.Cookie.Path = "/";
                o.Cookie.SecurePolicy = CookieSecurePolicy.SameAsRequest;
                o.Cookie.SameSite = SameSiteMode.Strict;
                o.Cookie.HttpOnly = true;
                o.ExpireTimeSpan = Sessions.Idle;
                o.LoginPath = "/sign-in";
                o.AccessDeniedPath = "/not-allowed";
                o.ReturnUrlParameter = "then";
                // An API caller gets a status, a page's visitor the sign-in form.
                o.Events.OnRedirectToLogin = c => Redirect(c, StatusCodes.Status401Unauthorized, HttpMethods.IsPost(c.Request.Method) ? BackToPage(c) : c.RedirectUri);
                o.Events.OnRedirectToAccessDenied = c =>
                {
                    c.HttpContext.RequestServices.GetRequiredService<SecurityLog>().Refused(c.HttpContext, c.HttpContext.User.Identity?.IsAuthenticated == true ? c.HttpContext.User.PersonId() : "nobody", StatusCodes.Status403Forbidden);
                    return Redirect(c, StatusCodes.Status403Forbidden, c.RedirectUri);
                };
                o.Events.OnValidatePrincipal = Revalidate;
                o.Events.OnSigningIn = BeginAsync;
                o.Events.OnSigningOut = EndAsync;
            })
            .AddScheme<AuthenticationSchemeOptions, DeviceAuthentication>(DeviceScheme, null);
        services.AddSingleton<IAuthorizationMiddlewareResultHandler, RefusalInWords>();
        var authorization = services.AddAuthorizationBuilder();
        foreach (var permission in WhoMay.Table.Where(p => !p.Anyone))
        {
            string[] schemes = permission.Devices ? [CookieAuthenticationDefaults.AuthenticationScheme, DeviceScheme] : [CookieAuthenticationDefaults.AuthenticationScheme];
            if (permission.Roles.Count + permission.Own.Count == 0) schemes = [DeviceScheme];
            authorization.AddPolicy(permission.Action, p => p.AddAuthenticationSchemes(schemes).RequireAuthenticatedUser().RequireAssertion(c => permission.PassesDoor(c.User, permission.IsOwn(c.User, (c.Resource as HttpContext)?.GetRouteValue(Permission.PersonValue) as string))));
        }

        authorization.SetFallbackPolicy(new AuthorizationPolicyBuilder(CookieAuthenticationDefaults.AuthenticationScheme).RequireAuthenticatedUser()
            // An address that leads nowhere is not found; an endpoint that names no action is nobody's.
            .RequireAssertion(c => c.Resource is HttpContext http && http.GetEndpoint() is null).Build());
    }

    /// <summary>Of a person who reads and nothing else: the secrets were given, every role waits for a second person, or a passkey is asked for and not there.</summary>
    public const string GivenClaim = "given";

    /// <summary>Value of <see cref="GivenClaim"/> of a person all of whose roles wait for a second person.</summary>
    public const string Waits = "waits";

    /// <summary>Value of <see cref="GivenClaim"/> of a person who needs a passkey and has none.</summary>
    public const string NoPasskey = "no-passkey";

    public static ClaimsPrincipal Principal(Person person, PasskeySettings passkeys) => new(new ClaimsIdentity(
        [
            new(ClaimTypes.NameIdentifier, person.Id), new(StampClaim, person.Stamp),
            .. (person.PinIsGiven ? "true" : passkeys.Demands(person) ? NoPasskey : person.OnlyWaits ? Waits : null) is { } why ? [new Claim(GivenClaim, why)] : Array.Empty<Claim>(),
            .. (person.OnlyWaits ? person.WaitingRoles : person.Roles).Select(r => new Claim(ClaimTypes.Role, r)),
        ], CookieAuthenticationDefaults.AuthenticationScheme));

    /// <summary>The signed-on person's id.</summary>
    public static string PersonId(this ClaimsPrincipal user) => user.FindFirstValue(ClaimTypes.NameIdentifier)!;

    // Roles taken away, a person erased or secrets changed since sign-in end the session at the next request.
    private static Task Revalidate(CookieValidatePrincipalContext context)
    {
        var register = context.HttpContext.RequestServices.GetRequiredService<Register>();
        var clock = context.HttpContext.RequestServices.GetRequiredService<TimeProvider>();
        var person = context.Principal?.FindFirstValue(ClaimTypes.NameIdentifier) is { } id ? register.Person(id) : null;
        if (person is null || person.LapsedAt <= clock.GetUtcNow() || context.Principal!.FindFirstValue(StampClaim) != person.Stamp
            || !context.HttpContext.RequestServices.GetRequiredService<Sessions>().Runs(context.Principal))
        {
            context.RejectPrincipal();
        }
        else
        {
            context.HttpContext.RequestServices.GetRequiredService<Sessions>().Seen(context.Principal);
            context.ReplacePrincipal(With(Principal(person, context.HttpContext.RequestServices.GetRequiredService<PasskeySettings>()), Sessions.Of(context.Principal!)));
        }

        return Task.CompletedTask;
    }

    private static ClaimsPrincipal With(ClaimsPrincipal user, IEnumerable<Claim> session)
    {
        ((ClaimsIdentity)user.Identity!).AddClaims(session);
        return user;
    }

    private static async Task BeginAsync(CookieSigningInContext context)
    {
        var (http, services) = (context.HttpContext, context.HttpContext.RequestServices);
        var sessions = services.GetRequiredService<Sessions>();
        // The browser forgets the cookie it came with; a copy of that opens nothing any more.
        if ((await http.AuthenticateAsync(CookieAuthenticationDefaults.AuthenticationScheme)).Principal is { } before)
        {
            await sessions.EndAsync(before, http.RequestAborted);
            services.GetRequiredService<SecurityLog>().SessionEnded(before.PersonId());
        }

        With(context.Principal!, sessions.Begin());
        if (services.GetRequiredService<Register>().Person(context.Principal!.PersonId()) is { } person) await sessions.NoteAsync(context.Principal!, person, http.Request.Headers.UserAgent, http.RequestAborted);
        services.GetRequiredService<SecurityLog>().SessionBegan(context.Principal!.PersonId(), http.Connection.RemoteIpAddress?.ToString());
    }

    // The cookie is not only taken back: a copy of it opens nothing any more.
    private static async Task EndAsync(CookieSigningOutContext context)
    {
        // What the browser kept of pages and pictures (W3C Clear Site Data). Not its storage: a kiosk in the same browser keeps entries there that nobody else has yet,
        // and what was typed is dropped by the page's own script.
        context.Response.Headers["Clear-Site-Data"] = "\"cache\"";
        if ((await context.HttpContext.AuthenticateAsync(CookieAuthenticationDefaults.AuthenticationScheme)).Principal is not { } user) return;
        await context.HttpContext.RequestServices.GetRequiredService<Sessions>().EndAsync(user, context.HttpContext.RequestAborted);
        context.HttpContext.RequestServices.GetRequiredService<SecurityLog>().SessionEnded(user.PersonId());
    }

    // A form that came without a session: after signing in its page is opened again, not the address that the form was sent to.
    private static string BackToPage(RedirectContext<CookieAuthenticationOptions> context)
    {
        var query = QueryString.Create(context.Request.Query.Where(q => q.Key != "handler"));
        return context.Options.LoginPath + QueryString.Create(context.Options.ReturnUrlParameter, context.Request.PathBase + context.Request.Path + query);
    }

    /// <summary>Addresses that programs ask: they are answered by a status and a problem, never by a page.</summary>
    internal static bool IsForPrograms(PathString path) => path.StartsWithSegments("/v1", StringComparison.Ordinal) || path.StartsWithSegments("/log", StringComparison.Ordinal);

    private static Task Redirect(RedirectContext<CookieAuthenticationOptions> context, int status, string page)
    {
        if (IsForPrograms(context.Request.Path)) context.Response.StatusCode = status;
        else context.Response.Redirect(page);
        return Task.CompletedTask;
    }
}

/// <summary>Who is signed on and may not is told who may; a page's visitor is led to a page that says so.</summary>
public sealed class RefusalInWords : IAuthorizationMiddlewareResultHandler
{
    private readonly AuthorizationMiddlewareResultHandler _framework = new();

    public Task HandleAsync(RequestDelegate next, HttpContext context, AuthorizationPolicy policy, PolicyAuthorizationResult authorizeResult)
    {
        // The router's own answers: the address is there, and takes no such method or body.
        if (context.GetEndpoint()?.DisplayName is { } answer && answer.StartsWith("4", StringComparison.Ordinal) && answer.Contains(" HTTP ", StringComparison.Ordinal))
            return answer.StartsWith("415", StringComparison.Ordinal) && !Pages.WentWrong.IsPage(context) ? Problems.Result(FailureInWords.MediaType(context.Request)).ExecuteAsync(context) : next(context);
        if (authorizeResult.Challenged && Access.IsForPrograms(context.Request.Path) && !Pages.WentWrong.IsPage(context)) return NotKnown(context, policy);
        if (authorizeResult.Forbidden && Access.IsForPrograms(context.Request.Path) && !Pages.WentWrong.IsPage(context)
            && context.GetEndpoint()?.Metadata.GetMetadata<IAuthorizeData>()?.Policy is { } action && WhoMay.Has(action))
        {
            context.RequestServices.GetRequiredService<SecurityLog>().Refused(context, context.User.PersonId(), StatusCodes.Status403Forbidden);
            return Problems.Result(WhoMay.To(action).Refusal(context.User)).ExecuteAsync(context);
        }

        return _framework.HandleAsync(next, context, policy, authorizeResult);
    }

    private static Task NotKnown(HttpContext context, AuthorizationPolicy policy)
    {
        bool device = policy.AuthenticationSchemes.Contains(Access.DeviceScheme), person = policy.AuthenticationSchemes.Contains(CookieAuthenticationDefaults.AuthenticationScheme);
        if (!context.RequestServices.GetRequiredService<Register>().IsRead)
        {
            context.Response.Headers.RetryAfter = "5";
            return Problems.Result(Problems.Of(503, "register-away", "Devices and people are not known yet", "The database does not answer, and there is no good copy of the register. Keep what you have and send it again later.")).ExecuteAsync(context);
        }

        context.RequestServices.GetRequiredService<SecurityLog>().Refused(context, context.Request.Headers["X-Device-Id"].ToString(), StatusCodes.Status401Unauthorized);
        List<string> ways = [];
        if (device) ways.Add("A station sends X-Device-Id and X-Device-Key; an enrolled kiosk X-Device-Id, X-Device-Time and X-Device-Signature.");
        if (person) ways.Add("A person signs in with POST /v1/sign-in and sends the cookie of the session with each request.");
        context.Response.Headers.WWWAuthenticate = string.Join(", ", new[] { device ? "Device" : null, person ? "Cookie" : null }.OfType<string>());
        return Problems.Result(Problems.Of(401, "not-known", "Say who sends this", $"{(context.Items.TryGetValue(DeviceAuthentication.Why, out var why) ? why : "Nothing in this request says who sends it.")} {string.Join(' ', ways)} Nothing was taken in.")).ExecuteAsync(context);
    }
}

/// <summary>
/// Authenticates a device by its key (<c>X-Device-Key</c>) or by its signature over the request
/// (<c>X-Device-Signature</c>: base64 of r||s, ECDSA P-256 with SHA-256): "METHOD path\ntime", then, of a request with a body, "\n" and the exact
/// bytes. The time, Unix milliseconds by the service's clock, stands in <c>X-Device-Time</c>; a signed POST is answered once. A revoked device authenticates and is marked:
/// its facts are quarantined, not lost.
/// </summary>
public sealed class DeviceAuthentication(IOptionsMonitor<AuthenticationSchemeOptions> options, ILoggerFactory logger, UrlEncoder encoder, Register register, SignedRequests requests)
    : AuthenticationHandler<AuthenticationSchemeOptions>(options, logger, encoder)
{
    public const string AssuranceClaim = "assurance";
    public const string RevokedClaim = "revoked";

    // Bytes of a body that are kept in memory while its signature is checked. Our own choice: a kiosk's ordinary batch.
    private const int InMemory = 64 * 1024;

    /// <summary>Where a request keeps why its device was not accepted.</summary>
    public static readonly object Why = new();

    protected override async Task<AuthenticateResult> HandleAuthenticateAsync()
    {
        if (Request.Headers["X-Device-Id"].ToString() is not { Length: > 0 } id) return AuthenticateResult.NoResult();
        if (register.Device(id) is not { } device) return Refuse("The device is not known, or its key or signature is not right.");
        string assurance;
        if (Request.Headers["X-Device-Key"].ToString() is { Length: > 0 } key && device.KeyHash is { } hash)
        {
            if (!CryptographicOperations.FixedTimeEquals(Encoding.ASCII.GetBytes(Register.HashKey(key)), Encoding.ASCII.GetBytes(hash)))
                return Refuse("The device is not known, or its key or signature is not right.");
            assurance = "intake";
        }
        else if (Request.Headers["X-Device-Signature"].ToString() is { Length: > 0 } signature && device.PublicKey is { } publicKey)
        {
            if (!await SignedAsync(id, publicKey, signature)) return Refuse("The signature does not fit this request, or X-Device-Time is not within five minutes of the service's clock (GET /v1/time).");
            assurance = "device-key";
        }
        else
        {
            return Refuse("X-Device-Id came without X-Device-Key or X-Device-Signature.");
        }

        List<Claim> claims = [new(ClaimTypes.NameIdentifier, device.Id), new(AssuranceClaim, assurance)];
        if (device.RevokedAt is not null) claims.Add(new(RevokedClaim, "true"));
        return AuthenticateResult.Success(new AuthenticationTicket(new ClaimsPrincipal(new ClaimsIdentity(claims, Scheme.Name)), Scheme.Name));
    }

    private AuthenticateResult Refuse(string why)
    {
        Context.Items[Why] = why;
        return AuthenticateResult.Fail(why);
    }

    private async Task<bool> SignedAsync(string device, string publicKey, string signature)
    {
        // What is signed names the request and a moment, so that it cannot be used for another or again for long.
        var moment = Request.Headers["X-Device-Time"].ToString();
        if (!long.TryParse(moment, NumberStyles.None, CultureInfo.InvariantCulture, out var milliseconds) || !requests.IsTimely(milliseconds)) return false;
        using var signed = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        signed.AppendData(Encoding.UTF8.GetBytes($"{Request.Method} {Context.Features.GetRequiredFeature<IHttpRequestFeature>().RawTarget}\n{moment}"));
        var reading = HttpMethods.IsGet(Request.Method);
        if (!reading)
        {
            signed.AppendData("\n"u8);
            // What is larger waits on the disk: whoever knows a kiosk's id fills no memory with bodies.
            Request.EnableBuffering(InMemory);
            var buffer = new byte[InMemory];
            for (int read; (read = await Request.Body.ReadAsync(buffer, Context.RequestAborted)) > 0;) signed.AppendData(buffer.AsSpan(0, read));
            Request.Body.Position = 0;
        }

        var hash = signed.GetHashAndReset();

        try
        {
            return DeviceSigning.FitsHash(publicKey, hash, signature) && (reading || requests.IsFirst(device, hash));
        }
        catch (Exception e) when (e is FormatException or CryptographicException)
        {
            return false;
        }
    }
}
