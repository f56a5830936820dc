using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

[AllowAnonymous]
public sealed class SignInModel(Signing signing) : PageModel
{
    [BindProperty(SupportsGet = true)]
    public string? Then { get; set; }

    [BindProperty]
    public string? Person { get; set; }

    public string? Problem { get; private set; }

    public void OnGet()
    {
    }

    public async Task<IActionResult> OnPostAsync(string? password)
    {
        var signed = signing.Password(Person?.Trim(), password, HttpContext.Connection.RemoteIpAddress);
        if (signed.Person is not { } person)
        {
            Problem = signed.Problem!.Detail;
            Response.StatusCode = signed.Problem.Status!.Value;
            return Page();
        }

        await HttpContext.SignInAsync(Access.Principal(person));
        return LocalRedirect(person.PinIsGiven ? "/account" : Url.IsLocalUrl(Then) ? Then! : "/");
    }
}
