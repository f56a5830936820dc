using Traceability.Service.Operations;

namespace Traceability.Service.Edge;

/// <summary>
/// A browser sends the session's cookie also with what another site made it send. Whatever changes something is taken from the service's own pages alone:
/// by the browser's word in Sec-Fetch-Site, else by Origin (W3C Fetch Metadata; RFC 6454). Programs send neither.
/// </summary>
public sealed class SameOrigin(RequestDelegate next, SecurityLog log)
{
    public Task InvokeAsync(HttpContext http)
    {
        if (HttpMethods.IsGet(http.Request.Method) || HttpMethods.IsHead(http.Request.Method) || HttpMethods.IsOptions(http.Request.Method) || IsOwn(http.Request)) return next(http);
        log.OtherSite(http, http.Request.Headers.Origin.ToString() is { Length: > 0 } site ? site : "not named");
        return Problems.Result(Problems.Of(StatusCodes.Status403Forbidden, "other-site", "Sent by another site",
            $"The browser says that another site sent this ({(http.Request.Headers.Origin.ToString() is { Length: > 0 } origin ? origin : "its name is not told")}). Nothing was recorded. Open the service's own page and do it there.")).ExecuteAsync(http);
    }

    private static bool IsOwn(HttpRequest request) =>
        request.Headers["Sec-Fetch-Site"].ToString() is { Length: > 0 } site ? site is "same-origin" or "none"
        : request.Headers.Origin.ToString() is not { Length: > 0 } origin || string.Equals(origin, $"{request.Scheme}://{request.Host}", StringComparison.OrdinalIgnoreCase);
}
