using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

/// <summary>One's own password and PIN.</summary>
[Authorize(Policy = Access.Read)]
public sealed class AccountModel(Register register, PeopleDesk desk) : PageModel
{
    public Person Person { get; private set; } = null!;

    public string? Problem { get; private set; }

    public bool Done { get; private set; }

    public void OnGet() => Person = register.Person(User.PersonId())!;

    [May(Access.Account)]
    public async Task OnPostAsync(string id, string? password, string? newPassword, string? newPin, CancellationToken cancel)
    {
        var changed = await desk.ChooseAsync(id, password, newPassword, newPin, cancel, HttpContext.Connection.RemoteIpAddress);
        Person = changed.Person ?? register.Person(User.PersonId())!;
        if (changed.Problem is { } problem)
        {
            Problem = problem.Detail;
            Response.StatusCode = problem.Status!.Value;
            return;
        }

        // The change ended every session opened with the older secrets; this one goes on.
        Done = true;
        await HttpContext.SignInAsync(Access.Principal(Person));
    }
}
