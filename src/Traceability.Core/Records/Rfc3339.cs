using System.Globalization;

namespace Traceability.Core.Records;

/// <summary>
/// Times and days as facts write them. Years are bounded so that no sum of a time and a duration can leave the calendar:
/// a clock without power says 1970, and nothing here plans beyond 2199.
/// </summary>
internal static class Rfc3339
{
    public const int FirstYear = 1970, LastYear = 2199;

    public const string Limit = "must be an RFC 3339 time with its offset, for example 2026-03-02T09:30:00-05:00, of the years 1970 to 2199";

    public const string DayLimit = "must be a day written like 2026-03-02, of the years 1970 to 2199";

    /// <summary>RFC 3339 "date-time" as a pattern of JSON Schema.</summary>
    public const string Pattern = @"^(19[7-9][0-9]|2[01][0-9]{2})-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])[Tt]([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9](\.[0-9]{1,20})?([Zz]|[+-](0[0-9]|1[0-4]):[0-5][0-9])$";

    public const string DayPattern = "^(19[7-9][0-9]|2[01][0-9]{2})-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$";

    private const int SecondsEnd = 19, KeptFraction = 7, MostFraction = 20;

    /// <summary>Reads a time with its offset, kept as written. Digits beyond 100 nanoseconds are dropped.</summary>
    public static bool TryRead(string? text, out DateTimeOffset time)
    {
        time = default;
        if (text is null || text.Length < SecondsEnd + 1) return false;
        var at = SecondsEnd;
        if (text[at] == '.')
        {
            while (++at < text.Length && char.IsAsciiDigit(text[at])) { }
            var digits = at - SecondsEnd - 1;
            if (digits is 0 or > MostFraction) return false;
        }

        var fraction = text[SecondsEnd..Math.Min(at, SecondsEnd + 1 + KeptFraction)];
        var offset = text[at..] is "Z" or "z" ? "+00:00" : text[at..];
        var whole = text[..SecondsEnd].Replace('t', 'T') + fraction + offset;
        return offset.Length == 6
            && DateTimeOffset.TryParseExact(whole, fraction.Length == 0 ? "yyyy-MM-dd'T'HH:mm:sszzz" : "yyyy-MM-dd'T'HH:mm:ss.FFFFFFFzzz", CultureInfo.InvariantCulture, DateTimeStyles.None, out time)
            && time.Year is >= FirstYear and <= LastYear;
    }

    public static bool TryReadDay(string? text, out DateOnly day) =>
        DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out day) && day.Year is >= FirstYear and <= LastYear;

    public static string Write(DateTimeOffset time) => time.ToString("yyyy-MM-dd'T'HH:mm:ss.FFFFFFFzzz", CultureInfo.InvariantCulture);
}
