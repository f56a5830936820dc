using Traceability.Service.Operations;

namespace Traceability.Service.Edge;

/// <summary>Plain HTTP is for this machine alone: over the plant's network passwords, PINs and keys would pass readable for everybody on it.</summary>
public sealed class PlainHttp(RequestDelegate next, EdgeSettings edge)
{
    public Task InvokeAsync(HttpContext http)
    {
        if (http.Request.IsHttps || http.Connection.RemoteIpAddress is not { } from || edge.TakesPlainFrom(from)
            // Whoever watches over the service may ask whether it lives; that answer holds no secret.
            || http.Request.Path.StartsWithSegments("/health", StringComparison.Ordinal)) return next(http);
        const string why = "This is plain HTTP: passwords, PINs and keys would pass readable for everybody on the network. Open it over https://. Whoever runs the service sets HTTPS up as docs/operations.md says.";
        if (!Pages.WentWrong.IsPage(http)) return Problems.Result(Problems.Of(StatusCodes.Status403Forbidden, "plain-http", "Only over HTTPS", why)).ExecuteAsync(http);
        http.Response.StatusCode = StatusCodes.Status403Forbidden;
        http.Response.ContentType = "text/html; charset=utf-8";
        return http.Response.WriteAsync($"<!DOCTYPE html><html lang=\"en-US\"><head><meta charset=\"utf-8\"><title>Only over HTTPS</title></head><body><h1>Only over HTTPS</h1><p>{why}</p></body></html>");
    }
}
