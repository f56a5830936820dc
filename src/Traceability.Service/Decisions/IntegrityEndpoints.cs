using Traceability.Core.Events;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Decisions;

public static class IntegrityEndpoints
{
    /// <summary>Longest period of one review. Our own choice.</summary>
    public static readonly TimeSpan LongestPeriod = TimeSpan.FromDays(62);

    /// <summary>The period looked at when none is named. Our own choice.</summary>
    public static readonly TimeSpan UsualPeriod = TimeSpan.FromDays(7);

    public static void MapIntegrity(this IEndpointRouteBuilder app) =>
        app.MapGet("/v1/integrity", async (DateTimeOffset? from, DateTimeOffset? until, IntegrityReader reader, TimeProvider clock, CancellationToken cancel) =>
            {
                var (begins, ends) = Period(from, until, clock.GetUtcNow());
                return begins < ends && ends - begins <= LongestPeriod
                    ? Results.Json(await reader.ReadAsync(begins, ends, cancel), FactJson.Options)
                    : Problems.Result(Problems.Of(422, "period", "Which period?", $"from, until: must be in order and at most {LongestPeriod.TotalDays} days apart. Review a long time in parts."));
            })
            .RequireRateLimiting(Operations.Costly.Policy).RequireAuthorization(Access.Integrity).WithTags("Decisions").WithSummary("Review of the records that came in a period: signs that a person should look at")
            .WithDescription("Late block entries, identical readings repeated, one person in two places, tests entered after their decision, changes that turned not met into met, overrides, breaches. Read from the log; part of no judgement and no packet.")
            .Produces<IntegrityPeriod>().ProducesProblem(422);

    /// <summary>The period asked for; the last days when none is.</summary>
    public static (DateTimeOffset From, DateTimeOffset Until) Period(DateTimeOffset? from, DateTimeOffset? until, DateTimeOffset now)
    {
        var ends = until ?? now;
        return (from ?? ends - UsualPeriod, ends);
    }
}
