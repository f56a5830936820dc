using System.Threading.RateLimiting;
using Microsoft.AspNetCore.RateLimiting;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Edge;

/// <summary>What one sender may ask at once. All figures are our own choices; a plant's own work stays far below them.</summary>
public static class Limits
{
    /// <summary>Sign-ins of one address: so many at once, then so many a second. A shift signs in within minutes, behind one proxy perhaps.</summary>
    public const int SignInsAtOnce = 100, SignInsPerSecond = 10;

    /// <summary>Largest body of a form or a decision, bytes. Facts and letters have their own.</summary>
    public const int LargestBody = 256 * 1024;

    /// <summary>Longest answer; streams of notices have none.</summary>
    public static readonly TimeSpan LongestAnswer = TimeSpan.FromMinutes(2);

    public static void AddLimits(this IServiceCollection services)
    {
        services.AddRequestTimeouts(o => o.DefaultPolicy = new() { Timeout = LongestAnswer, TimeoutStatusCode = StatusCodes.Status503ServiceUnavailable });
        services.AddRateLimiter(o =>
        {
            o.RejectionStatusCode = StatusCodes.Status429TooManyRequests;
            o.OnRejected = async (context, cancel) =>
            {
                var http = context.HttpContext;
                http.RequestServices.GetRequiredService<SecurityLog>().Limited(http);
                http.Response.Headers.RetryAfter = "5";
                if (!Pages.WentWrong.IsPage(http))
                    await Problems.Result(Problems.Of(429, "too-many", "Too many requests", "This was asked too often at once. Nothing was changed; wait a few seconds and ask again.")).ExecuteAsync(http);
            };
            o.GlobalLimiter = PartitionedRateLimiter.Create<HttpContext, string>(http => SignsIn(http.Request)
                ? RateLimitPartition.GetTokenBucketLimiter("sign-in " + AttemptCount.Of(http.Connection.RemoteIpAddress), _ => new()
                {
                    TokenLimit = SignInsAtOnce, TokensPerPeriod = SignInsPerSecond, ReplenishmentPeriod = TimeSpan.FromSeconds(1), QueueLimit = 0,
                })
                : RateLimitPartition.GetNoLimiter(""));
            o.AddPolicy(Costly.Policy, http => IsCheap(http.Request) ? RateLimitPartition.GetNoLimiter("")
                : RateLimitPartition.GetConcurrencyLimiter(Costly.Policy, _ => new() { PermitLimit = Costly.AtOnce, QueueLimit = Costly.Waiting }));
        });
    }

    // The board of now is read off rows; of another moment it judges every unit.
    private static bool IsCheap(HttpRequest request) => request.Path == "/" && !request.Query.ContainsKey("position") && !request.Query.ContainsKey("at");

    private static bool SignsIn(HttpRequest request) => HttpMethods.IsPost(request.Method) && (request.Path == "/v1/sign-in" || request.Path == "/sign-in");
}
