using System.Text.Json;
using Traceability.Core.Records;
using Traceability.Service.Assembling;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Recall;

public static class RecallEndpoints
{
    /// <summary>Most units in one answer. Our own choice; a list longer than that is read in parts.</summary>
    public const int Most = 100_000;

    public static void MapRecall(this IEndpointRouteBuilder app) =>
        app.MapGet("/v1/recall/{**subject}", AnswerAsync).RequireRateLimiting(Costly.Policy).RequireAuthorization(Access.ReadOrDevice).WithTags("Recall")
            .WithSummary("Which units a subject reaches and where they are (up), and what it is made from (down)")
            .WithDescription("""
                The subject is written kind:id, for example lot:producer/number, storage:name, instrument:id, unit:serial. direction is up, down or both; up when not given, both for a unit.
                "link" is certain, or possible where a storage lies between. "named" is false where only the index of links names the unit and the records that count do not; it is left out
                while the unit waits to be judged. Units come by serial, at most limit of them after the serial "after"; counts are always of all. format is json or csv.
                """)
            .ProducesProblem(404).ProducesProblem(422);

    private static async Task<IResult> AnswerAsync(string subject, string? direction, string? format, int? limit, string? after, RecallReader recall, HttpContext http, CancellationToken cancel)
    {
        if (!Subject.TryParse(subject.Replace("%2F", "/", StringComparison.OrdinalIgnoreCase), out var of))
            return Problems.Result(Problems.Shape([new("subject", "must be written kind:id", "Write for example lot:producer/number or cage:C-101.")]));
        direction ??= of.Kind == "unit" ? "both" : "up";
        if (direction is not ("up" or "down" or "both"))
            return Problems.Result(Problems.Shape([new("direction", "must be up, down or both", "Name one of them, or leave it out.")]));
        if (format is not (null or "json" or "csv"))
            return Problems.Result(Problems.Shape([new("format", "must be json or csv", "Name one of them, or leave it out.")]));
        if (limit is < 1 or > Most)
            return Problems.Result(Problems.Shape([new("limit", $"must be 1 to {Most}", "Read a longer list in parts: pass the last serial as after.")]));

        var up = direction != "down" ? await recall.UpAsync(of, cancel) : null;
        var down = direction != "up" ? await recall.DownAsync(of, null, cancel) : null;
        if (up is not { Units.Count: > 0 } && down is not { Subjects.Count: > 0 } && !await recall.IsKnownAsync(of, cancel))
            return Problems.Result(Problems.Of(404, "subject-unknown", "No record names this subject", $"'{of}' stands in no record. Check how it is written: kind:id."));
        var first = after is null || up is null ? 0 : FirstAfter(up.Units, after);
        var last = up is null ? 0 : Math.Min(up.Units.Count, first + (limit ?? Most));
        if (format == "csv")
        {
            http.Response.Headers.ContentDisposition = "attachment; filename=\"recall.csv\"";
            return Results.Text(up is not null && direction != "down" ? RecallText.Csv(up, first, last) : RecallText.Csv(down!), "text/csv; charset=utf-8");
        }

        http.Response.ContentType = "application/json; charset=utf-8";
        await using (var json = new Utf8JsonWriter(http.Response.BodyWriter))
        {
            RecallText.Write(json, of, up, down, first, last);
        }

        await http.Response.BodyWriter.FlushAsync(cancel);
        return Results.Empty;
    }

    private static int FirstAfter(IReadOnlyList<RecalledUnit> units, string after)
    {
        var (low, high) = (0, units.Count);
        while (low < high)
        {
            var middle = (low + high) / 2;
            if (string.CompareOrdinal(units[middle].Serial, after) <= 0) low = middle + 1;
            else high = middle;
        }

        return low;
    }
}
