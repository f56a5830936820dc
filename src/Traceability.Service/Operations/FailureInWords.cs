using System.Text.Json;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Mvc;

namespace Traceability.Service.Operations;

/// <summary>What a program is answered when a request could not be read or the database is away: a problem that says what to do, instead of a bare 500.</summary>
public sealed class FailureInWords : IExceptionHandler
{
    /// <summary>Whether a failure is one of the caller's or of a server that is away; such are no errors of this program and leave no trace in its log.</summary>
    public static bool IsExpected(Exception exception) => exception is BadHttpRequestException || Recording.Recorder.IsAway(exception);

    public async ValueTask<bool> TryHandleAsync(HttpContext httpContext, Exception exception, CancellationToken cancellationToken)
    {
        var problem = exception switch
        {
            BadHttpRequestException bad => Unread(bad, httpContext.Request),
            _ when Recording.Recorder.IsAway(exception) => Problems.Of(503, "database-away", "The database does not answer", "Nothing was changed by this request, or it may be sent again. Try again in a few seconds; if it stays so, tell the administrator."),
            _ => null,
        };
        if (problem is null) return false;
        if (exception is BadHttpRequestException) httpContext.RequestServices.GetRequiredService<SecurityLog>().Refused(httpContext, httpContext.User.FindFirst(System.Security.Claims.ClaimTypes.NameIdentifier)?.Value ?? "nobody", problem.Status!.Value);
        if (problem.Status == 503) httpContext.Response.Headers.RetryAfter = "2";
        await Problems.Result(problem).ExecuteAsync(httpContext);
        return true;
    }

    /// <summary>Puts words of ours into what the framework answers by itself, which names only a number.</summary>
    public static void Complete(ProblemDetailsContext context)
    {
        if (context.ProblemDetails.Type?.StartsWith("/problems/", StringComparison.Ordinal) == true) return;
        var (type, title, detail) = context.HttpContext.Response.StatusCode switch
        {
            400 => ("request", "The request is not what this address reads", "Nothing was recorded. /openapi/v1.json describes each address."),
            404 => ("no-such-address", "Nothing stands under this address", "Check it; /openapi/v1.json lists the addresses."),
            405 => ("method", "This address takes no such request", "Nothing was recorded. /openapi/v1.json says which methods it takes."),
            413 => ("too-large", "The request is too large", "Nothing was taken in. Send less at once."),
            503 => ("later", "Not now", "Nothing was recorded, or it may be sent again. Try again in a few seconds."),
            500 => ("failed", "Something went wrong", "The service could not answer. Look whether it was recorded before you send it again; if it happens twice, tell the administrator the traceId."),
            _ => default,
        };
        if (type is null) return;
        (context.ProblemDetails.Type, context.ProblemDetails.Title, context.ProblemDetails.Detail) = ("/problems/" + type, title, detail);
    }

    private static ProblemDetails Unread(BadHttpRequestException bad, HttpRequest request) => bad.StatusCode switch
    {
        408 => Problems.Of(408, "too-slow", "The request came too slowly", "Its body did not arrive in time. Nothing was taken in; send it again."),
        413 => Problems.Of(413, "too-large", "The request is too large", "Nothing was taken in. Send less at once."),
        415 => MediaType(request),
        _ => Problems.Of(bad.StatusCode, "request", "The request is not what this address reads", (bad.InnerException is JsonException json ? Json(json) : Sentence(bad.Message)) + " Nothing was recorded. /openapi/v1.json describes each address."),
    };

    /// <summary>What is answered where JSON is read and something else was sent.</summary>
    public static ProblemDetails MediaType(HttpRequest request) =>
        Problems.Of(415, "media-type", "Send JSON", $"Content-Type must be {(request.Path == Intake.IntakeEndpoints.Path ? Intake.IntakeEndpoints.Types : "application/json")}; {(request.ContentType is { Length: > 0 } type ? $"it is '{type}'" : "none was sent")}. Nothing was taken in.");

    // The framework's words name types of this program, which tell a caller nothing.
    private static string Json(JsonException e)
    {
        const string missing = "including: ";
        if (e.Message.IndexOf(missing, StringComparison.Ordinal) is >= 0 and var at) return $"The body lacks {e.Message[(at + missing.Length)..].Split(" Path:")[0].TrimEnd('.')}.";
        return e.Path is { Length: > 1 } path ? $"{path[1..].TrimStart('.')} in the body is not of the kind it must be." : "The body is not the JSON that it must be.";
    }

    private static string Sentence(string text) => text.EndsWith('.') ? text : text + ".";
}
