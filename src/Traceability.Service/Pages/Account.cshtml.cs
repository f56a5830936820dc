using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

/// <summary>One's own password and PIN.</summary>
[Authorize(Policy = Access.Read)]
public sealed class AccountModel(Register register, PeopleDesk desk, Passkeys passkeys, OwnSessions sessions) : PageModel
{
    public Person Person { get; private set; } = null!;

    public string? Problem { get; private set; }

    public bool Done { get; private set; }

    public void OnGet() => Person = register.Person(User.PersonId())!;

    /// <summary>One's browser sessions, the one that asks first; null while the database is away.</summary>
    public async Task<IReadOnlyList<RunningSession>?> RunningAsync() =>
        (await sessions.ListAsync(User, HttpContext.RequestAborted))?.OrderByDescending(s => IsThis(s, User)).ThenByDescending(s => s.SeenAt).ToList();

    /// <summary>What was said to a session that was ended.</summary>
    public string? Ended { get; private set; }

    public static bool IsThis(RunningSession session, System.Security.Claims.ClaimsPrincipal user) => session.Id == Sessions.IdOf(user);

    [May(Access.Account)]
    public Task OnPostEndSessionAsync(string id, string? session, string? password, CancellationToken cancel) => EndAsync(session ?? "", password, cancel);

    [May(Access.Account)]
    public Task OnPostEndOthersAsync(string id, string? password, CancellationToken cancel) => EndAsync(null, password, cancel);

    private async Task EndAsync(string? session, string? password, CancellationToken cancel)
    {
        Person = register.Person(User.PersonId())!;
        var (ended, problem) = await sessions.EndAsync(User, session, password, HttpContext.Connection.RemoteIpAddress, cancel);
        if (problem is not null) Refuse(problem);
        else Ended = ended switch { 0 => "There was no other session.", 1 => "Signed out there.", _ => $"Signed out of {ended} other sessions." };
    }

    [May(Access.Account)]
    public async Task OnPostAsync(string id, string? password, string? pin, string? newPassword, string? newPin, CancellationToken cancel)
    {
        var changed = await desk.ChooseAsync(id, password, pin, newPassword, newPin, cancel, HttpContext.Connection.RemoteIpAddress);
        Person = changed.Person ?? register.Person(User.PersonId())!;
        if (changed.Problem is { } problem)
        {
            Refuse(problem);
            return;
        }

        await GoOnAsync();
    }

    /// <summary>Whether passkeys are set up under the name that this page was opened with.</summary>
    public bool TakesPasskeys => passkeys.Settings.Fits(Request);

    public PasskeySettings Passkeys => passkeys.Settings;

    /// <summary>What the browser makes a new passkey from; null until the password was right.</summary>
    public string? Options { get; private set; }

    public string? PasskeyName { get; private set; }

    [May(Access.Account)]
    public async Task OnPostBeginPasskeyAsync(string id, string? password, string? pin, string? name, CancellationToken cancel)
    {
        Person = register.Person(User.PersonId())!;
        var may = TakesPasskeys ? desk.MayAddPasskey(id, password, pin, HttpContext.Connection.RemoteIpAddress) : new(null, null, NotHere);
        if (may.Person is not { } person) Refuse(may.Problem!);
        else (Options, PasskeyName) = (await passkeys.AskNewAsync(person, Request, cancel), Clean(name));
    }

    [May(Access.Account)]
    public async Task OnPostAddPasskeyAsync(string id, string? name, string? answer, CancellationToken cancel)
    {
        Person = register.Person(User.PersonId())!;
        var (passkey, problem) = TakesPasskeys ? await passkeys.MadeAsync(Person, Clean(name), answer, Request, cancel) : (null, NotHere);
        if (passkey is null)
        {
            Refuse(problem!);
            return;
        }

        Person = (await desk.AddPasskeyAsync(Person, passkey, cancel)).Person!;
        await GoOnAsync();
    }

    [May(Access.Account)]
    public async Task OnPostRemovePasskeyAsync(string id, string? password, string? passkey, CancellationToken cancel)
    {
        var changed = await desk.RemovePasskeyAsync(id, passkey, password, HttpContext.Connection.RemoteIpAddress, cancel);
        Person = changed.Person ?? register.Person(User.PersonId())!;
        if (changed.Problem is { } problem) Refuse(problem);
        else await GoOnAsync();
    }

    private const int LongestName = 40;

    private static string Clean(string? name) => name?.Trim() is { Length: > 0 } text ? text[..Math.Min(text.Length, LongestName)] : "passkey";

    private Microsoft.AspNetCore.Mvc.ProblemDetails NotHere => Operations.Problems.Of(409, "passkey", "No passkeys here",
        passkeys.Settings.Domain is { } domain ? $"Passkeys only work at {domain}. Open the site at that address." : "Passkeys are not set up (Passkeys:Domain).");

    private void Refuse(Microsoft.AspNetCore.Mvc.ProblemDetails problem)
    {
        Problem = problem.Detail;
        Response.StatusCode = problem.Status!.Value;
    }

    private async Task GoOnAsync()
    {
        // The change ended every session opened with the older secrets; this one goes on.
        Done = true;
        var user = Access.Principal(Person, passkeys.Settings);
        await HttpContext.SignInAsync(user);
        HttpContext.User = user;
    }
}
