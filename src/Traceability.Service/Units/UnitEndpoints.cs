using Marten;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Assembling;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Units;

public static class UnitEndpoints
{
    public static void MapUnits(this IEndpointRouteBuilder app)
    {
        app.MapGet("/v1/units", async (IQuerySession session, CancellationToken cancel) =>
                Results.Json(await session.Query<UnitRow>().OrderBy(u => u.Id).ToListAsync(cancel), FactJson.Options))
            .RequireAuthorization(Access.ReadOrDevice).WithTags("Units").WithSummary("All units as last assembled; may lag");
        app.MapGet("/v1/units/{id}", JudgedAsync).RequireAuthorization(Access.ReadOrDevice).WithTags("Units")
            .WithSummary("A unit judged now, or as known at a log position").ProducesProblem(404);
        app.MapGet("/v1/units/{id}/dossier", DossierAsync).RequireAuthorization(Access.ReadOrDevice).WithTags("Units")
            .WithSummary("The records that bear on a unit, exact bytes").ProducesProblem(404);
    }

    private static async Task<IResult> JudgedAsync(string id, long? position, UnitReader reader, CancellationToken cancel)
    {
        if (!Subject.IsId(id, "unit")) return NotFound(id);
        var unit = await reader.ReadAsync(Subject.Unit(id), position, cancel);
        if (unit.File.Entries.Count == 0 && unit.File.SetAside.Count == 0) return NotFound(id);
        return Results.Json(new
        {
            unit = id,
            position = unit.Dossier.Position,
            judgedAt = unit.At,
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

    private static async Task<IResult> DossierAsync(string id, long? position, UnitReader reader, CancellationToken cancel)
    {
        if (!Subject.IsId(id, "unit")) return NotFound(id);
        var unit = await reader.ReadAsync(Subject.Unit(id), position, cancel);
        return unit.Dossier.Records.Count == 0 ? NotFound(id) : Results.Bytes(unit.Dossier.Write(), "application/json");
    }

    private static IResult NotFound(string id) =>
        Problems.Result(Problems.Of(404, "unit-unknown", "No record bears on this unit", $"'{id}' is not a serial that any record names. Check the mark on the piece."));
}
