using System.Globalization;

namespace Traceability.Service.Linking;

/// <summary>A moment of the store: what was recorded up to a log position, as it stood at a moment.</summary>
/// <param name="At">The moment asked for; when a position was asked for, when its record was recorded.</param>
public sealed record AsKnown(long Position, DateTimeOffset At)
{
    /// <summary>Reads a moment with its offset; null when it is none. A plus sign that an address turned into a space is read as one.</summary>
    public static DateTimeOffset? Moment(string text) =>
        DateTimeOffset.TryParse(text.Trim().Replace(' ', '+'), CultureInfo.InvariantCulture, DateTimeStyles.None, out var at)
        && (text.EndsWith('Z') || text.Length > 6 && text[^6] is '+' or '-' or ' ') ? at : null;
}
