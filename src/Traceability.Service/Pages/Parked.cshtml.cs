using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;
using Traceability.Service.Recording;

namespace Traceability.Service.Pages;

[Authorize(Policy = Access.SetApart)]
public sealed class ParkedModel(Parking parking) : PageModel
{
    public IReadOnlyList<SetApart> Entries { get; private set; } = [];

    public int Waiting => Entries.Count(e => e.SettledAt is null);

    public string? Said { get; private set; }

    public bool Failed { get; private set; }

    public async Task OnGetAsync(CancellationToken cancel) => Entries = await parking.ListAsync(cancel);

    public async Task OnPostAsync(Guid id, string contentHash, CancellationToken cancel)
    {
        var result = await parking.RedriveAsync(id, contentHash ?? "", cancel);
        Failed = result.Recorded is null;
        if (Failed) Response.StatusCode = result.Entry is null ? StatusCodes.Status404NotFound : StatusCodes.Status409Conflict;
        Said = SetApartWords.Of(result);
        Entries = await parking.ListAsync(cancel);
    }
}
