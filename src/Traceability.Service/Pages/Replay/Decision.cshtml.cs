using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Service.People;
using Traceability.Service.Replay;

namespace Traceability.Service.Pages.Replay;

[Authorize(Policy = Access.Read)]
public sealed class DecisionModel(ReplayReader replay) : PageModel
{
    public Guid Id { get; private set; }

    public DecisionThen? Decision { get; private set; }

    public async Task OnGetAsync(Guid id, CancellationToken cancel)
    {
        Id = id;
        Decision = await replay.DecisionAsync(id, cancel);
        if (Decision is null) Response.StatusCode = StatusCodes.Status404NotFound;
    }

    /// <summary>A hold kind as a judgement's bytes write it, in the words of the pages.</summary>
    public static string Hold(string kind) => Enum.TryParse<HoldKind>(kind, ignoreCase: true, out var known) ? Words.Of(known) : kind;

    public static string State(HoldText hold) =>
        (Enum.TryParse<HoldState>(hold.State, ignoreCase: true, out var state) ? Words.Of(state) : hold.State) + (hold.OpenItems > 0 ? $", {hold.OpenItems} to clear" : "");

    /// <summary>A verdict as a judgement's bytes write it; null when there is none.</summary>
    public static Mark? Verdict(FindingText? finding) => finding is null ? null
        : Enum.TryParse<Verdict>(finding.Verdict, ignoreCase: true, out var verdict) ? Words.Of(verdict) : new Mark("?", finding.Verdict, Urgency.Watch);
}
