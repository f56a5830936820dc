using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;
using Traceability.Service.Recording;

namespace Traceability.Service.Pages;

[Authorize(Policy = Access.SetApart)]
public sealed class QuarantineModel(Quarantine quarantine) : PageModel
{
    public IReadOnlyList<SetApart> Entries { get; private set; } = [];

    public int Waiting => Entries.Count(e => e.SettledAt is null);

    public string? Said { get; private set; }

    public bool Failed { get; private set; }

    public async Task OnGetAsync(CancellationToken cancel) => Entries = await quarantine.ListAsync(cancel);

    public async Task OnPostAsync(Guid id, string contentHash, CancellationToken cancel)
    {
        var result = await quarantine.ClearAsync(id, contentHash ?? "", User.PersonId(), cancel);
        Failed = result.Recorded is null;
        if (Failed) Response.StatusCode = result.Entry is null ? StatusCodes.Status404NotFound : StatusCodes.Status409Conflict;
        Said = SetApartWords.Of(result);
        Entries = await quarantine.ListAsync(cancel);
    }
}

internal static class SetApartWords
{
    public static string Of(LetThrough result) => result switch
    {
        { Recorded: { Status: EntryStatus.Conflict } recorded } => $"Recorded at position {recorded.Position} as a conflict: another content stands under this id, and neither counts.",
        { Recorded: { Status: EntryStatus.Duplicate } recorded } => $"The same content was recorded already at position {recorded.Position}; it is no longer set apart.",
        { Recorded.Status: EntryStatus.Claimed, Entry: { } claimed } => $"It now waits for {claimed.Person}, who confirms it on the page Waiting for me. It does not count yet.",
        { Recorded: { } recorded } => $"Recorded at position {recorded.Position}; it counts from now on.",
        _ => $"Nothing was changed: {result.Why}.",
    };
}
