using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.RateLimiting;
using Traceability.Service.Board;
using Traceability.Service.Linking;
using Traceability.Service.People;
using Traceability.Service.Units;

namespace Traceability.Service.Pages;

[Authorize(Policy = Access.Read), EnableRateLimiting(Operations.Costly.Policy)]
public sealed class IndexModel(BoardReader reader, DossierStore dossiers, PlantSettings plant) : PageModel
{
    /// <summary>The moment the board is shown as known at; null for now.</summary>
    public AsKnown? AsKnown { get; private set; }

    /// <summary>What is wrong with the moment asked for; null when nothing is.</summary>
    public string? Problem { get; private set; }

    public BoardNow Board { get; private set; } = null!;

    public async Task<IActionResult> OnGetAsync(string? position, string? at, CancellationToken cancel)
    {
        // The board spans contracts; the agency's inspector begins at the units of its own.
        if (OwnContracts.IsBound(User)) return LocalRedirect("/units");
        (AsKnown, var problem) = await AsKnownQuery.ReadAsync(dossiers, position, plant.Moment(at), cancel);
        Problem = problem?.Detail;
        Board = AsKnown is null ? await reader.ReadAsync(cancel) : await reader.ReadAsync(AsKnown, cancel);
        return Page();
    }

    public static string Short(int question) => question switch
    {
        1 => "to pour",
        2 => "to strip",
        3 => "without a sample",
        4 => "low breaks",
        5 => "heats without papers",
        6 => "cylinders due",
        7 => "concrete out of limits",
        8 => "to ship",
        9 => "nonconformances",
        _ => "about to lapse",
    };
}
