using Traceability.Core.Events;
using Traceability.Service.Linking;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Units;

namespace Traceability.Service.Board;

public static class BoardEndpoints
{
    public static void MapBoard(this IEndpointRouteBuilder app) =>
        app.MapGet("/v1/replay/board", AnswerAsync).RequireRateLimiting(Costly.Policy).RequireAuthorization(Access.Read).WithTags("Replay")
            .WithSummary("The ten questions of the board, now or as known at a log position or moment").ProducesProblem(422);

    private static async Task<IResult> AnswerAsync(string? position, string? at, BoardReader board, DossierStore dossiers, CancellationToken cancel)
    {
        var (asKnown, problem) = await AsKnownQuery.ReadAsync(dossiers, position, at, cancel);
        return problem is not null ? Problems.Result(problem)
            : Results.Json(View(asKnown is null ? await board.ReadAsync(cancel) : await board.ReadAsync(asKnown, cancel)), FactJson.Options);
    }

    /// <summary>As the interface and the command line write it.</summary>
    public static object View(BoardNow board) => new
    {
        position = board.Position,
        at = board.At,
        unitsInPlant = board.UnitsInPlant,
        questions = board.Questions.Select(q => new
        {
            number = q.Number,
            id = q.Id,
            title = q.Title,
            lines = q.Lines.Select(l => new { name = l.Name, state = l.Mark.Word, text = l.Text, reasons = l.Reasons.Select(r => new { state = r.Mark.Word, text = r.Text, clear = r.Clear }), units = l.Units.Select(u => u.Serial) }),
        }),
    };
}
