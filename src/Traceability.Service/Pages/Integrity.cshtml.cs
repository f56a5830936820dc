using Microsoft.AspNetCore.RateLimiting;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Integrity;
using Traceability.Service.Decisions;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

/// <summary>The review of a period: signs that a person should look at.</summary>
[EnableRateLimiting(Operations.Costly.Policy)]
[Authorize(Policy = Access.Integrity)]
public sealed class IntegrityModel(IntegrityReader reader, PlantSettings plant) : PageModel
{
    public IntegrityPeriod? Review { get; private set; }

    public DateOnly From { get; private set; }

    public DateOnly Through { get; private set; }

    public string? Problem { get; private set; }

    public async Task OnGetAsync(DateOnly? from, DateOnly? through, CancellationToken cancel)
    {
        var today = plant.Today;
        Through = through ?? today;
        From = from ?? Through.AddDays(-(int)IntegrityEndpoints.UsualPeriod.TotalDays);
        var (begins, ends) = (plant.StartOf(From), plant.StartOf(Through.AddDays(1)));
        if (begins >= ends || ends - begins > IntegrityEndpoints.LongestPeriod)
        {
            Problem = $"The days must be in order and at most {IntegrityEndpoints.LongestPeriod.TotalDays} apart. Review a long time in parts.";
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return;
        }

        Review = await reader.ReadAsync(begins, ends, cancel);
    }

    public static string Title(IntegrityKind kind) => kind switch
    {
        IntegrityKind.Authority => "Changes of people, roles, secrets and devices",
        IntegrityKind.LateBlock => "Entered late in one go",
        IntegrityKind.IdenticalReadings => "The same readings again",
        IntegrityKind.TwoPlaces => "In two places at once",
        IntegrityKind.AfterItsDecision => "Entered after its decision",
        IntegrityKind.TurnedByChange => "Changes that turned not met into met",
        IntegrityKind.Override => "Overrides",
        _ => "Breaches",
    };
}
