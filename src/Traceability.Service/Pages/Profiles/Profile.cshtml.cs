using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;
using Traceability.Service.Profiles;

namespace Traceability.Service.Pages.Profiles;

[Authorize(Policy = Access.Read)]
public sealed class ProfileModel(ProfileShelf shelf) : PageModel
{
    public string Name { get; private set; } = "";

    public ShelvedProfile? Found { get; private set; }

    public async Task<IActionResult> OnGetAsync(string name, CancellationToken cancel)
    {
        Name = name;
        Found = (await shelf.ListAsync(cancel)).FirstOrDefault(p => p.Name == name);
        if (Found is null) Response.StatusCode = StatusCodes.Status404NotFound;
        return Page();
    }
}
