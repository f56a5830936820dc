using System.Globalization;
using System.Threading.RateLimiting;
using Microsoft.AspNetCore.Mvc;
using Traceability.Service.Operations;

namespace Traceability.Service.Intake;

/// <summary>
/// What one device may send: requests handled at once, so that a station gone wrong does not keep the others waiting, and facts over time, so that it does not fill the
/// log. Counted by the device that proved itself, never by address: all stations may stand behind one. Each process counts for itself.
/// </summary>
/// <param name="atOnce">Requests handled at once; as many as <paramref name="waiting"/> wait their turn.</param>
/// <param name="facts">Facts at one time; <paramref name="perSecond"/> more every second.</param>
public sealed class DeviceLimits(int atOnce = DeviceLimits.AtOnce, int waiting = DeviceLimits.Waiting, int facts = DeviceLimits.Facts, int perSecond = DeviceLimits.FactsPerSecond) : IDisposable
{
    /// <summary>
    /// Our own choice. A kiosk sends one request at a time, the plant simulator's fastest load four; 200 requests a second of one device (<c>ops/bench</c>) stay below it
    /// unless each took a sixth of a second. More at once do not make the one recorder faster.
    /// </summary>
    public const int AtOnce = 32;

    /// <summary>Our own choice: <c>ops/bench</c> at 200 a second meets it only when nothing is answered for more than two seconds. They wait without their body being read, or, of a kiosk that signs it, with no more than 64 KiB of it in memory.</summary>
    public const int Waiting = 400;

    /// <summary>
    /// Our own choice. <c>ops/bench</c> sends 66,000 facts of one device within a minute; the invented plant's stations together need months for half a million. A kiosk
    /// that was without the service for a week brings some thousands.
    /// </summary>
    public const int Facts = 500_000;

    /// <summary>Our own choice: over eight million a day, where a probe that reads every 15 minutes sends about a hundred.</summary>
    public const int FactsPerSecond = 100;

    private readonly PartitionedRateLimiter<string> _requests = PartitionedRateLimiter.Create<string, string>(device => RateLimitPartition.GetConcurrencyLimiter(device, _ => new()
    {
        PermitLimit = atOnce, QueueLimit = waiting, QueueProcessingOrder = QueueProcessingOrder.OldestFirst,
    }), StringComparer.Ordinal);

    private readonly PartitionedRateLimiter<string> _facts = PartitionedRateLimiter.Create<string, string>(device => RateLimitPartition.GetTokenBucketLimiter(device, _ => new()
    {
        TokenLimit = facts, TokensPerPeriod = perSecond, ReplenishmentPeriod = TimeSpan.FromSeconds(1), QueueLimit = 0,
    }), StringComparer.Ordinal);

    /// <summary>A turn of a device; dispose it when the request is answered. Not acquired where too many wait.</summary>
    public ValueTask<RateLimitLease> TurnAsync(string device, CancellationToken cancel) => _requests.AcquireAsync(device, 1, cancel);

    /// <summary>Takes facts off what the device may send.</summary>
    /// <returns>How long to wait first; null where they may be taken in. More than may ever come at once count as that many.</returns>
    public TimeSpan? Take(string device, int count)
    {
        using var lease = _facts.AttemptAcquire(device, Math.Min(count, facts));
        return lease.IsAcquired ? null : lease.TryGetMetadata(MetadataName.RetryAfter, out var after) && after > TimeSpan.FromSeconds(1) ? after : TimeSpan.FromSeconds(1);
    }

    /// <summary>The refusal in words, with Retry-After (RFC 9110, section 10.2.3) in whole seconds.</summary>
    public static IResult Refuse(HttpContext http, string device, TimeSpan after)
    {
        var seconds = (int)Math.Ceiling(after.TotalSeconds);
        http.RequestServices.GetRequiredService<SecurityLog>().TooMuch(http, device);
        http.Response.Headers.RetryAfter = seconds.ToString(CultureInfo.InvariantCulture);
        ProblemDetails problem = Problems.Of(StatusCodes.Status429TooManyRequests, "too-many", "This station sends too much",
            $"This station sends more than one station may. Nothing of this request was taken in: keep the facts and send them again in {seconds} {(seconds == 1 ? "second" : "seconds")}. If this keeps happening, check whether the station is sending the same data over and over.");
        return Problems.Result(problem);
    }

    public void Dispose()
    {
        _requests.Dispose();
        _facts.Dispose();
    }
}
