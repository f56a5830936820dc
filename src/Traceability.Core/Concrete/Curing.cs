namespace Traceability.Core.Concrete;

/// <summary>One temperature of one probe.</summary>
/// <param name="Hours">Time, hours, from any beginning.</param>
/// <param name="TemperatureF">Concrete temperature, degrees Fahrenheit.</param>
public readonly record struct CureReading(decimal Hours, decimal TemperatureF);

/// <summary>Heating, peak and cooling of curing concrete, over every interval between two readings of one probe.</summary>
public static class Curing
{
    /// <summary>Fastest rise between two readings, degrees Fahrenheit an hour; 0 when it never rises; null below two readings.</summary>
    public static decimal? FastestRise(IReadOnlyList<CureReading> readings) => Steepest(readings, 1);

    /// <summary>Fastest cooling between two readings, degrees Fahrenheit an hour; 0 when it never cools; null below two readings.</summary>
    public static decimal? FastestCooling(IReadOnlyList<CureReading> readings) => Steepest(readings, -1);

    /// <summary>Highest reading, degrees Fahrenheit; null when there is none.</summary>
    public static decimal? Peak(IReadOnlyList<CureReading> readings) => readings.Count == 0 ? null : readings.Max(r => r.TemperatureF);

    /// <summary>
    /// Highest temperature up to a moment, degrees Fahrenheit, with the temperature at the moment itself by straight line
    /// between the readings around it; null when no reading lies at or before it.
    /// </summary>
    public static decimal? HighestUntil(IReadOnlyList<CureReading> readings, decimal hours)
    {
        decimal? highest = null;
        for (var i = 0; i < readings.Count; i++)
        {
            var here = readings[i];
            if (here.Hours <= hours)
            {
                highest = Math.Max(highest ?? here.TemperatureF, here.TemperatureF);
                continue;
            }

            if (i == 0) return null;
            var before = readings[i - 1];
            var at = before.TemperatureF + (here.TemperatureF - before.TemperatureF) * (hours - before.Hours) / (here.Hours - before.Hours);
            return Math.Max(highest!.Value, at);
        }

        return highest;
    }

    /// <summary>Lowest reading, degrees Fahrenheit; null when there is none.</summary>
    public static decimal? Lowest(IReadOnlyList<CureReading> readings) => readings.Count == 0 ? null : readings.Min(r => r.TemperatureF);

    /// <summary>
    /// Hours the concrete was left before it was heated: from batching to the first rise faster than a rate that concrete does
    /// not reach by itself; null when it never rose so fast.
    /// </summary>
    /// <param name="readings">In order of time; hours counted from batching.</param>
    /// <param name="unheatedFPerHour">Fastest rise without heat, degrees Fahrenheit an hour.</param>
    public static decimal? PresetHours(IReadOnlyList<CureReading> readings, decimal unheatedFPerHour)
    {
        for (var i = 1; i < readings.Count; i++)
        {
            var time = readings[i].Hours - readings[i - 1].Hours;
            if (time > 0 && readings[i].TemperatureF - readings[i - 1].TemperatureF > unheatedFPerHour * time) return readings[i - 1].Hours;
        }

        return null;
    }

    private static decimal? Steepest(IReadOnlyList<CureReading> readings, int sign)
    {
        if (readings.Count < 2) return null;
        var steepest = 0m;
        for (var i = 1; i < readings.Count; i++)
        {
            var time = readings[i].Hours - readings[i - 1].Hours;
            if (time > 0) steepest = Math.Max(steepest, sign * (readings[i].TemperatureF - readings[i - 1].TemperatureF) / time);
        }

        return steepest;
    }
}
