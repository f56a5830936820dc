namespace Traceability.Service.Operations;

/// <summary>
/// Who tried what, refused or done: a log category of its own, "Security", at Information and above. Ids and addresses only, no names, no secrets, nothing of what a fact says.
/// What somebody typed as an id is cut and stripped, so that nobody writes lines of their own into it.
/// </summary>
public sealed partial class SecurityLog(ILoggerFactory loggers)
{
    private const int Longest = 60;

    private readonly ILogger _log = loggers.CreateLogger("Security");

    /// <summary>A password or a PIN was shown.</summary>
    /// <param name="problem">Why it was not taken; null when it was right.</param>
    public void Secret(string kind, string? person, string? problem)
    {
        if (problem is null) LogSecret(_log, Clean(person), kind);
        else LogSecretRefused(_log, Clean(person), kind, problem);
    }

    public void SessionBegan(string person, string? from) => LogBegan(_log, person, from);

    public void SessionEnded(string person) => LogEnded(_log, person);

    /// <summary>A door did not open: not known, or not allowed.</summary>
    public void Refused(HttpContext http, string who, int status) => LogDoor(_log, Clean(who), http.Request.Method, Clean(http.GetEndpoint() is RouteEndpoint { RoutePattern.RawText: { } pattern } ? pattern : http.Request.Path), status, http.Connection.RemoteIpAddress?.ToString());

    /// <summary>A decision was signed and recorded, or refused.</summary>
    public void Decided(string person, string what, string? problem)
    {
        if (problem is null) LogDecided(_log, person, what);
        else LogNotDecided(_log, person, what, problem);
    }

    public void Limited(HttpContext http) => LogLimited(_log, Clean(http.Request.Path), http.Connection.RemoteIpAddress?.ToString());

    /// <summary>A device sends more than it may.</summary>
    public void TooMuch(HttpContext http, string device) => LogTooMuch(_log, Clean(device), Clean(http.Request.Path), http.Connection.RemoteIpAddress?.ToString());

    /// <summary>Facts of a device did not have the shape of their type.</summary>
    public void Unread(string device, int count) => LogUnread(_log, Clean(device), count);

    /// <summary>A browser says that another site made it send something.</summary>
    public void OtherSite(HttpContext http, string? origin) => LogOtherSite(_log, http.Request.Method, Clean(http.Request.Path), http.Connection.RemoteIpAddress?.ToString(), Clean(origin));

    private static string Clean(string? text) => string.Concat((text ?? "nobody").Where(c => c is > ' ' and <= '~').Take(Longest));

    [LoggerMessage(LogLevel.Information, "{Person} showed the right {Kind}")]
    private static partial void LogSecret(ILogger logger, string person, string kind);

    [LoggerMessage(LogLevel.Warning, "{Person} showed a {Kind} that was refused: {Problem}")]
    private static partial void LogSecretRefused(ILogger logger, string person, string kind, string problem);

    [LoggerMessage(LogLevel.Information, "Session of {Person} began from {From}")]
    private static partial void LogBegan(ILogger logger, string person, string? from);

    [LoggerMessage(LogLevel.Information, "Session of {Person} was ended")]
    private static partial void LogEnded(ILogger logger, string person);

    [LoggerMessage(LogLevel.Warning, "{Who} was refused {Method} {Door} with {Status} from {From}")]
    private static partial void LogDoor(ILogger logger, string who, string method, string door, int status, string? from);

    [LoggerMessage(LogLevel.Information, "{Person} decided: {What}")]
    private static partial void LogDecided(ILogger logger, string person, string what);

    [LoggerMessage(LogLevel.Warning, "{Person} was refused a decision, {What}: {Problem}")]
    private static partial void LogNotDecided(ILogger logger, string person, string what, string problem);

    [LoggerMessage(LogLevel.Warning, "{Device} sends too much to {Door} from {From}")]
    private static partial void LogTooMuch(ILogger logger, string device, string door, string? from);

    [LoggerMessage(LogLevel.Warning, "{Device} sent {Count} facts that could not be read")]
    private static partial void LogUnread(ILogger logger, string device, int count);

    [LoggerMessage(LogLevel.Warning, "{Method} {Door} from {From} was refused: another site, {Origin}, made a browser send it")]
    private static partial void LogOtherSite(ILogger logger, string method, string door, string? from, string origin);

    [LoggerMessage(LogLevel.Warning, "Too many requests for {Door} from {From}")]
    private static partial void LogLimited(ILogger logger, string door, string? from);
}
