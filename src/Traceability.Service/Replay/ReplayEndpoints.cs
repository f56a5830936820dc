using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Units;

namespace Traceability.Service.Replay;

public static class ReplayEndpoints
{
    public static void MapReplay(this IEndpointRouteBuilder app)
    {
        var replay = app.MapGroup("/v1/replay").RequireAuthorization(Access.ReadOrDevice).WithTags("Replay");
        replay.MapGet("/moment", MomentAsync).WithSummary("The log position of a moment, and the moment of a log position").ProducesProblem(422);
        replay.MapGet("/pours/{id}", PourAsync).WithSummary("A pour and its units as known at a log position or moment").ProducesProblem(404).ProducesProblem(422);
        replay.MapGet("/units/{id}/changes", UnitAsync).RequireRateLimiting(Costly.Policy).WithSummary("What changed for a unit between two moments: records added, findings and hold states changed")
            .WithDescription("from and to are log positions or moments with their offset; to is now when left out. Both are judged with their own clock under today's rules.").ProducesProblem(404).ProducesProblem(422);
        replay.MapGet("/changes", PlantAsync).RequireRateLimiting(Costly.Policy).WithSummary("What changed in the plant between two moments, unit by unit")
            .WithDescription("Units on which no record of that time bears can have changed by the clock alone; they are not compared.").ProducesProblem(422);
        replay.MapGet("/decisions/{record:guid}", DecisionAsync).WithSummary("The judgement kept with a decision, and the same records under today's rules").ProducesProblem(404);
    }

    private static async Task<(AsKnown? AsKnown, Microsoft.AspNetCore.Mvc.ProblemDetails? Problem)> EndAsync(DossierStore dossiers, string field, string? text, CancellationToken cancel)
    {
        if (string.IsNullOrWhiteSpace(text)) return (null, null);
        var number = text.All(char.IsAsciiDigit);
        var (asKnown, problem) = await AsKnownQuery.ReadAsync(dossiers, number ? text : null, number ? null : text, cancel);
        return problem is null ? (asKnown, null) : (null, Problems.Shape([new(field, "must be a log position or a time with its offset", "Write for example 1204 or 2026-05-04T07:00:00-05:00.")]));
    }

    private static async Task<IResult> MomentAsync(string? position, string? at, ReplayReader replay, DossierStore dossiers, CancellationToken cancel)
    {
        var (asKnown, problem) = await AsKnownQuery.ReadAsync(dossiers, position, at, cancel);
        return problem is not null ? Problems.Result(problem) : Json(asKnown ?? await replay.NowAsync(cancel));
    }

    private static async Task<IResult> PourAsync(string id, string? position, string? at, ReplayReader replay, DossierStore dossiers, CancellationToken cancel)
    {
        var (asKnown, problem) = await AsKnownQuery.ReadAsync(dossiers, position, at, cancel);
        if (problem is not null) return Problems.Result(problem);
        if (!Subject.IsId(id, "pour") || await replay.PourAsync(Subject.Pour(id), asKnown, cancel) is not { } pour)
            return Problems.Result(Problems.Of(404, "pour-unknown", "No record is about this pour by then", $"'{id}' is named by no record up to that moment."));
        return Json(View(pour));
    }

    private static async Task<IResult> UnitAsync(string id, string? from, string? to, ReplayReader replay, DossierStore dossiers, CancellationToken cancel)
    {
        var (ends, problem) = await EndsAsync(replay, dossiers, from, to, cancel);
        if (problem is not null) return Problems.Result(problem);
        if (!Subject.IsId(id, "unit") || await replay.UnitAsync(Subject.Unit(id), ends.From, ends.To, cancel) is not { } changes)
            return Problems.Result(Problems.Of(404, "unit-unknown", "No record bears on this unit by then", $"'{id}' is named by no record up to that moment."));
        return Json(new { from = ends.From, to = ends.To, change = View(changes) });
    }

    private static async Task<IResult> PlantAsync(string? from, string? to, ReplayReader replay, DossierStore dossiers, CancellationToken cancel)
    {
        var (ends, problem) = await EndsAsync(replay, dossiers, from, to, cancel);
        return problem is not null ? Problems.Result(problem) : Json(View(await replay.PlantAsync(ends.From, ends.To, cancel)));
    }

    private static async Task<IResult> DecisionAsync(Guid record, ReplayReader replay, CancellationToken cancel) =>
        await replay.DecisionAsync(record, cancel) is { } decision ? Json(View(decision))
            : Problems.Result(Problems.Of(404, "decision-unknown", "No decision is recorded under this id", "Take the id of a release or an override from the unit's page."));

    /// <summary>Reads both ends of a stretch; the second is now when it is left out.</summary>
    public static async Task<((AsKnown From, AsKnown To) Ends, Microsoft.AspNetCore.Mvc.ProblemDetails? Problem)> EndsAsync(ReplayReader replay, DossierStore dossiers, string? from, string? to, CancellationToken cancel)
    {
        if (string.IsNullOrWhiteSpace(from)) return (default, Problems.Shape([new("from", "must be given", "Name the log position or the moment from which changes count.")]));
        var (first, problem) = await EndAsync(dossiers, "from", from, cancel);
        if (problem is not null) return (default, problem);
        var (last, second) = await EndAsync(dossiers, "to", to, cancel);
        if (second is not null) return (default, second);
        last ??= await replay.NowAsync(cancel);
        return first!.Position > last.Position ? (default, Problems.Shape([new("to", "must not lie before from", "Exchange the two.")])) : ((first, last), null);
    }

    /// <summary>As the interface and the command line write them.</summary>
    public static object View(PourThen pour) => new
    {
        pour = pour.Pour,
        asKnown = pour.AsKnown,
        records = pour.Records.Select(Line),
        units = pour.Units.Select(u => new { unit = u.Dossier.Unit.Id, judgement = u.Judgement.Hash, holds = u.Judgement.Holds.Select(h => new { kind = h.Kind, state = h.State, openItems = h.OpenItems.Count }) }),
    };

    /// <inheritdoc cref="View(PourThen)"/>
    public static object View(UnitChanges change) => new
    {
        unit = change.Unit,
        records = change.Records.Select(Line),
        judgementBefore = change.Before.Hash,
        judgementAfter = change.After.Hash,
        findings = change.Changes.Findings,
        holds = change.Changes.Holds,
    };

    /// <inheritdoc cref="View(PourThen)"/>
    public static object View(PlantChanges plant) => new { from = plant.From, to = plant.To, records = plant.Records, more = plant.More, units = plant.Units.Select(View) };

    /// <inheritdoc cref="View(PourThen)"/>
    public static object View(DecisionThen decision) => new
    {
        decision = Line(decision.Decision),
        unit = decision.Unit,
        basis = decision.Basis,
        stored = decision.Stored,
        intact = decision.Stored is null ? (bool?)null : decision.Stored.Hash == decision.Basis.JudgementHash,
        underTodaysRules = decision.Today,
        same = decision.Stored is null ? (bool?)null : decision.Stored.Hash == decision.Today.Hash,
        changes = decision.Changes,
    };

    private static object Line(Record record) => new { position = record.Position, record = record.Id, type = record.Type, occurredAt = record.OccurredAt.At, recordedAt = record.RecordedAt, person = record.Person };

    private static IResult Json(object? value) => Results.Json(value, FactJson.Options);
}
