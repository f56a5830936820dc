using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Profiles;

public static class ProfileEndpoints
{
    public static void MapProfiles(this IEndpointRouteBuilder app)
    {
        app.MapGet("/v1/profiles", async (ProfileShelf shelf, CancellationToken cancel) => Results.Json((await shelf.ListAsync(cancel)).Select(p => new
            {
                name = p.Name,
                title = p.Profile.Title,
                inherits = p.Profile.Inherits,
                rounding = p.Profile.Rounding,
                editions = p.Profile.Editions,
                publishedAt = p.PublishedAt,
                record = p.Record,
                limits = p.Profile.Limits.Count,
                confirmed = p.Confirmed,
                contracts = p.Contracts,
            }), FactJson.Options))
            .RequireAuthorization(Access.ReadOrDevice).WithTags("Profiles").WithSummary("Every published profile of limits, how many limits are confirmed, and which contracts it governs");
        app.MapGet("/v1/profiles/{name}", async (string name, ProfileShelf shelf, CancellationToken cancel) =>
                (await shelf.ListAsync(cancel)).FirstOrDefault(p => p.Name == name) is { } found ? Results.Json(found, FactJson.Options) : Unknown(name))
            .RequireAuthorization(Access.ReadOrDevice).WithTags("Profiles").WithSummary("One profile version with its limits, sources, marks and confirmations").ProducesProblem(404);
        app.MapGet("/v1/units/{id}/compare", CompareAsync).RequireRateLimiting(Costly.Policy).RequireAuthorization(Access.Read).WithTags("Profiles")
            .WithSummary("A unit judged now by the profile in force and by another, finding by finding").ProducesProblem(404).ProducesProblem(422);
    }

    private static async Task<IResult> CompareAsync(string id, string? profile, TwoProfiles two, CancellationToken cancel)
    {
        if (profile is null) return Problems.Result(Problems.Shape([new("profile", "is required", "Name a published profile with its version, such as ?profile=national-standards@1.")]));
        if (!Subject.IsId(id, "unit")) return NoUnit(id);
        var (now, sides) = await two.ReadAsync(Subject.Unit(id), profile, cancel);
        if (now is null) return NoUnit(id);
        if (sides is null) return Unknown(profile);
        return Results.Json(new
        {
            unit = id,
            position = now.Dossier.Position,
            judgedAt = now.At,
            rules = now.Judgement.RulesVersion,
            inForce = Side(sides.Sides.Left),
            other = Side(sides.Sides.Right),
            findings = sides.Sides.Findings.Select(f => new { requirement = f.Either.Requirement, subject = f.Either.Subject, differs = f.Differs, limitDiffers = f.LimitDiffers, inForce = f.Left, other = f.Right }),
        }, FactJson.Options);
    }

    private static object Side(Judgement judgement) => new { profile = judgement.Profile, judgement = judgement.Hash, holds = judgement.Holds };

    private static IResult NoUnit(string id) =>
        Problems.Result(Problems.Of(404, "unit-unknown", "No record bears on this unit", $"'{id}' is not a serial that any record names. Check the mark on the piece."));

    private static IResult Unknown(string name) =>
        Problems.Result(Problems.Of(404, "profile-unknown", "This profile was not published", $"'{name}' is no published profile version. GET /v1/profiles lists them; a name is written name@version."));
}
