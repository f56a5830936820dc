using Microsoft.AspNetCore.RateLimiting;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.People;
using Traceability.Service.Replay;

namespace Traceability.Service.Pages.Replay;

/// <summary>A stretch of the log as the pages of changes ask for it.</summary>
public abstract class StretchModel(ReplayReader replay, DossierStore dossiers, PlantSettings plant) : PageModel
{
    public AsKnown? From { get; private set; }

    public AsKnown? To { get; private set; }

    /// <summary>What is wrong with the stretch asked for; null when nothing is.</summary>
    public string? Problem { get; private set; }

    protected ReplayReader Reader => replay;

    /// <summary>Whether there is a stretch to compare.</summary>
    protected async Task<bool> ReadStretchAsync(string? from, string? to, CancellationToken cancel)
    {
        if (string.IsNullOrWhiteSpace(from)) return false;
        var (ends, problem) = await ReplayEndpoints.EndsAsync(replay, dossiers, plant.Moment(from), plant.Moment(to), cancel);
        if (problem is not null)
        {
            Problem = problem.Detail;
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return false;
        }

        (From, To) = ends;
        return true;
    }
}

[EnableRateLimiting(Operations.Costly.Policy)]
[Authorize(Policy = Access.Read)]
public sealed class ChangesModel(ReplayReader replay, DossierStore dossiers, PlantSettings plant) : StretchModel(replay, dossiers, plant)
{
    public PlantChanges? Changes { get; private set; }

    public async Task OnGetAsync(string? from, string? to, CancellationToken cancel)
    {
        if (await ReadStretchAsync(from, to, cancel)) Changes = await Reader.PlantAsync(From!, To!, cancel);
    }
}

[Authorize(Policy = Access.Read)]
public sealed class UnitModel(ReplayReader replay, DossierStore dossiers, PlantSettings plant) : StretchModel(replay, dossiers, plant)
{
    public string Id { get; private set; } = "";

    public UnitChanges? Changes { get; private set; }

    public async Task OnGetAsync(string id, string? from, string? to, CancellationToken cancel)
    {
        Id = id;
        if (!Subject.IsId(id, "unit")) Response.StatusCode = StatusCodes.Status404NotFound;
        else if (await ReadStretchAsync(from, to, cancel)) Changes = await Reader.UnitAsync(Subject.Unit(id), From!, To!, cancel);
    }
}
