using Marten;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Assembling;
using Traceability.Service.Linking;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Units;

public static class UnitEndpoints
{
    public static void MapUnits(this IEndpointRouteBuilder app)
    {
        app.MapGet("/v1/units", async (IQuerySession session, HttpContext http, OwnContracts own, CancellationToken cancel) =>
                Results.Json(OwnContracts.IsBound(http.User) && await own.AgenciesAsync(http.User.PersonId(), cancel) is var agencies
                    ? await session.Query<UnitRow>().Where(u => u.Agency.IsOneOf(agencies.ToArray())).OrderBy(u => u.Id).ToListAsync(cancel)
                    : await session.Query<UnitRow>().OrderBy(u => u.Id).ToListAsync(cancel), FactJson.Options))
            .RequireAuthorization(Access.ReadOrDevice).WithTags("Units").WithSummary("All units as last assembled; may lag");
        app.MapGet("/v1/units/{id}", JudgedAsync).RequireAuthorization(Access.ReadOrDevice).WithTags("Units")
            .WithSummary("A unit judged now, or as known at a log position or moment")
            .WithDescription("position or at (RFC 3339 with offset), not both. As known then: the records up to then, judged with the clock of then under today's rules.").ProducesProblem(404).ProducesProblem(422);
        app.MapGet("/v1/units/{id}/dossier", DossierAsync).RequireAuthorization(Access.ReadOrDevice).WithTags("Units")
            .WithSummary("The records that bear on a unit, exact bytes").ProducesProblem(404);
    }

    private static async Task<IResult> JudgedAsync(string id, string? position, string? at, UnitReader reader, DossierStore dossiers, CancellationToken cancel)
    {
        if (!Subject.IsId(id, "unit")) return NotFound(id);
        var (asKnown, problem) = await AsKnownQuery.ReadAsync(dossiers, position, at, cancel);
        if (problem is not null) return Problems.Result(problem);
        var unit = await reader.ReadAsync(Subject.Unit(id), asKnown, cancel);
        if (unit.File.Entries.Count == 0 && unit.File.SetAside.Count == 0) return NotFound(id);
        return Results.Json(new
        {
            unit = id,
            position = unit.Dossier.Position,
            judgedAt = unit.At,
            asKnownThen = asKnown is not null,
            validUntil = unit.Judgement.ValidUntil,
            judgement = unit.Judgement.Hash,
            rules = unit.Judgement.RulesVersion,
            profile = unit.Judgement.Profile,
            scheduled = unit.File.Scheduled?.Fact,
            holds = unit.Judgement.Holds,
            findings = unit.Judgement.Findings,
            setAside = unit.File.SetAside.Select(s => new { record = s.Record.Id, type = s.Record.Type, kind = s.Kind, reason = s.Reason }),
            records = unit.Dossier.Records.Count,
        }, FactJson.Options);
    }

    private static async Task<IResult> DossierAsync(string id, string? position, string? at, DossierStore dossiers, CancellationToken cancel)
    {
        if (!Subject.IsId(id, "unit")) return NotFound(id);
        var (asKnown, problem) = await AsKnownQuery.ReadAsync(dossiers, position, at, cancel);
        if (problem is not null) return Problems.Result(problem);
        var dossier = await dossiers.LoadAsync(Subject.Unit(id), asKnown?.Position, cancel);
        return dossier.Records.Count == 0 ? NotFound(id) : Results.Bytes(dossier.Write(), "application/json");
    }

    private static IResult NotFound(string id) =>
        Problems.Result(Problems.Of(404, "unit-unknown", "No record bears on this unit", $"'{id}' is not a serial that any record names. Check the mark on the piece."));
}
