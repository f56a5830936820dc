using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

[AllowAnonymous]
public sealed class SignInModel(Register register, TimeProvider clock) : PageModel
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
        var person = register.Person(Person?.Trim() ?? "");
        if (person is null || !Register.PasswordIs(person, password ?? "") || person.LapsedAt <= clock.GetUtcNow())
        {
            Problem = "The person id or the password is not right, or the person's roles have lapsed.";
            Response.StatusCode = StatusCodes.Status401Unauthorized;
            return Page();
        }

        await HttpContext.SignInAsync(Access.Principal(person));
        return LocalRedirect(Url.IsLocalUrl(Then) ? Then! : "/");
    }
}
