namespace Traceability.Core.Records;

public enum TimeOrder { Before, After, CannotTell }

/// <summary>
/// When something happened, by one station's clock, with how far that clock may be off. Two moments of one station
/// are ordered by its clock alone; two of different stations only when they are further apart than both uncertainties.
/// </summary>
public readonly record struct Moment(DateTimeOffset At, TimeSpan Uncertainty, string Clock)
{
    /// <summary>A station that reported its offset at the last sync is trusted to this. Our own choice, not a figure of the trade.</summary>
    public static readonly TimeSpan SyncedUncertainty = TimeSpan.FromSeconds(2);

    /// <summary>A station that reported none. Our own choice, not a figure of the trade.</summary>
    public static readonly TimeSpan UnsyncedUncertainty = TimeSpan.FromMinutes(2);

    public static Moment Of(CloudEvent sent) => sent.ClockOffsetMs is { } offset
        ? new(sent.Time - TimeSpan.FromMilliseconds(offset), SyncedUncertainty, sent.Source)
        : new(sent.Time, UnsyncedUncertainty, sent.Source);

    public TimeOrder Compare(Moment other)
    {
        var gap = At - other.At;
        if (gap == TimeSpan.Zero && Clock == other.Clock) return TimeOrder.Before;
        var blur = string.Equals(Clock, other.Clock, StringComparison.Ordinal) ? TimeSpan.Zero : Uncertainty + other.Uncertainty;
        if (gap.Duration() <= blur) return TimeOrder.CannotTell;
        return gap < TimeSpan.Zero ? TimeOrder.Before : TimeOrder.After;
    }
}
