using Microsoft.AspNetCore.RateLimiting;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Records;
using Traceability.Service.People;
using Traceability.Service.Profiles;

namespace Traceability.Service.Pages.Profiles;

[EnableRateLimiting(Operations.Costly.Policy)]
[Authorize(Policy = Access.Read)]
public sealed class CompareModel(TwoProfiles two, ProfileShelf shelf) : PageModel
{
    public string Serial { get; private set; } = "";

    public string? Profile { get; private set; }

    public bool Known { get; private set; }

    public UnitUnderTwo? Two { get; private set; }

    public IReadOnlyList<ShelvedProfile> Profiles { get; private set; } = [];

    public async Task<IActionResult> OnGetAsync(string id, string? profile, CancellationToken cancel)
    {
        (Serial, Profile) = (id, profile);
        Profiles = await shelf.ListAsync(cancel);
        if (Subject.IsId(id, "unit"))
        {
            var (now, sides) = await two.ReadAsync(Subject.Unit(id), profile ?? "", cancel);
            (Known, Two) = (now is not null, sides);
        }

        if (!Known || (profile is not null && Two is null)) Response.StatusCode = StatusCodes.Status404NotFound;
        return Page();
    }
}
