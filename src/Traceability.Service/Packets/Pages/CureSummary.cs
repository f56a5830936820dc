using Traceability.Core.Events;

namespace Traceability.Service.Packets.Pages;

/// <summary>The ends and the steepest steps of one probe's readings, as read: no smoothing.</summary>
internal sealed record CureSummary(
    TemperatureReading Highest, TemperatureReading Lowest, TimeSpan WidestGap,
    (decimal PerHour, DateTimeOffset At)? Rise, (decimal PerHour, DateTimeOffset At)? Fall)
{
    public static CureSummary Of(IReadOnlyList<TemperatureReading> readings)
    {
        (decimal PerHour, DateTimeOffset At)? rise = null, fall = null;
        var gap = TimeSpan.Zero;
        for (var i = 1; i < readings.Count; i++)
        {
            var time = readings[i].At - readings[i - 1].At;
            if (time > gap) gap = time;
            var rate = (readings[i].TemperatureF.Value - readings[i - 1].TemperatureF.Value) / ((decimal)time.Ticks / TimeSpan.TicksPerHour);
            // The same arithmetic as the finding's, kept with the moment it happened at.
            if (rate > 0 && (rise is null || rate > rise.Value.PerHour)) rise = (rate, readings[i - 1].At);
            if (rate < 0 && (fall is null || rate < fall.Value.PerHour)) fall = (rate, readings[i - 1].At);
        }

        return new(readings.MaxBy(r => r.TemperatureF.Value)!, readings.MinBy(r => r.TemperatureF.Value)!, gap, rise, fall);
    }
}
