using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;

namespace Traceability.Service.Pages;

/// <summary>Says which requests are a browser's, and leaves their failures to the page below.</summary>
public sealed class WentWrong : IExceptionHandler
{
    public static bool IsPage(HttpContext http) =>
        http.Request.Headers.Accept.ToString().Contains("text/html", StringComparison.OrdinalIgnoreCase)
        // Programs ask for JSON or for anything; only somebody who follows a link to data asks for a page.
        && (HttpMethods.IsGet(http.Request.Method) || !http.Request.Path.StartsWithSegments("/v1", StringComparison.Ordinal)) && !http.Request.Path.StartsWithSegments("/kiosk", StringComparison.Ordinal);

    public ValueTask<bool> TryHandleAsync(HttpContext httpContext, Exception exception, CancellationToken cancellationToken)
    {
        var page = IsPage(httpContext);
        // Without a body: the page follows.
        if (page) httpContext.Response.StatusCode = exception is BadHttpRequestException bad ? bad.StatusCode : Recording.Recorder.IsAway(exception) ? StatusCodes.Status503ServiceUnavailable : StatusCodes.Status500InternalServerError;
        return ValueTask.FromResult(page);
    }
}

/// <summary>What a browser is shown where a page or a form could not be answered: what it was, and what to do. Programs get problems in JSON.</summary>
[AllowAnonymous, IgnoreAntiforgeryToken, ResponseCache(NoStore = true)]
public sealed class WentWrongModel : PageModel
{
    public string Title { get; private set; } = "";

    public string What { get; private set; } = "";

    public string Remedy { get; private set; } = "";

    /// <summary>The page that a form stood on; null where there is none to go back to.</summary>
    public string? Back { get; private set; }

    public void OnGet(int code) => Say(code);

    // A form that could not be taken is shown this page under its own method.
    public void OnPost(int code) => Say(code);

    private void Say(int code)
    {
        Response.StatusCode = code is >= 400 and <= 599 ? code : StatusCodes.Status404NotFound;
        var failed = HttpContext.Features.Get<IStatusCodeReExecuteFeature>()?.OriginalPath ?? HttpContext.Features.Get<IExceptionHandlerPathFeature>()?.Path;
        var sent = HttpMethods.IsPost(Request.Method);
        if (sent && Url.IsLocalUrl(failed)) Back = failed;
        (Title, What, Remedy) = Response.StatusCode switch
        {
            400 when sent => ("This form was not taken", "Nothing was recorded. The form belongs to a session that has ended or to another person's, or a field was not filled in as asked.", "Go back to the page: what you typed is there again, PINs excepted. Check it and sign it once more."),
            400 => ("This address is not complete", "A part of the address is missing or not written as asked.", "Start from the board, or find the unit by its serial."),
            401 => ("You are not signed in", "This address is open to people who are signed in.", "Sign in from the board, then open it again."),
            403 => ("This is not open to you", "Another role does this.", "Ask the administrator for the role, or somebody who has it."),
            404 => ("There is no such page", "Nothing stands under this address. It may be mistyped, or the page was renamed.", "Start from the board, or find the unit by its serial."),
            405 => ("This address takes no such request", "Nothing was recorded.", "Start from the board."),
            413 => ("That was too large", "Nothing was recorded.", "Send less at once, or a smaller file."),
            429 => ("Too many requests", "This computer or person asked too often. Nothing was recorded.", "Wait a minute, then try again."),
            503 => ("The service is not ready", "The database or the broker does not answer. Nothing was recorded by this page.", "Wait a minute, then try again. If it stays so, tell the administrator."),
            _ => ("Something went wrong", "The service could not answer. Whether the last form was taken can be seen on its page.", "Go back and look before you send it again. If it happens twice, tell the administrator the time and the page."),
        };
    }
}
