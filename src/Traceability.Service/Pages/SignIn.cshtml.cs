using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

[AllowAnonymous]
public sealed class SignInModel(Signing signing, Passkeys passkeys) : PageModel
{
    [BindProperty(SupportsGet = true)]
    public string? Then { get; set; }

    [BindProperty]
    public string? Person { get; set; }

    public string? Problem { get; private set; }

    /// <summary>What the browser signs with the passkey; null until the password was right.</summary>
    public string? Options { get; private set; }

    public void OnGet()
    {
    }

    public async Task<IActionResult> OnPostAsync(string? password, CancellationToken cancel)
    {
        var signed = signing.Password(Person?.Trim(), password, HttpContext.Connection.RemoteIpAddress);
        if (signed.Person is not { } person) return Refused(signed.Problem!);
        if (!passkeys.Settings.Asks(person)) return await BeginAsync(person);
        if (!passkeys.Settings.Fits(Request))
        {
            Problem = $"{person.Id} signs in with a passkey, which only works at {passkeys.Settings.Domain}. Open the site at that address.";
            Response.StatusCode = StatusCodes.Status403Forbidden;
            return Page();
        }

        Options = await passkeys.AskAsync(person, Request, cancel);
        return Page();
    }

    public async Task<IActionResult> OnPostPasskeyAsync(string? answer, CancellationToken cancel)
    {
        if (!passkeys.Settings.Fits(Request)) return RedirectToPage();
        var signed = await passkeys.SignedAsync(answer, Request, cancel);
        return signed.Person is { } person ? await BeginAsync(person) : Refused(signed.Problem!);
    }

    private PageResult Refused(ProblemDetails problem)
    {
        Problem = problem.Detail;
        Response.StatusCode = problem.Status!.Value;
        return Page();
    }

    private async Task<IActionResult> BeginAsync(Person person)
    {
        await HttpContext.SignInAsync(Access.Principal(person, passkeys.Settings));
        return LocalRedirect(person.PinIsGiven || passkeys.Settings.Demands(person) ? "/account" : Url.IsLocalUrl(Then) ? Then! : "/");
    }
}
