namespace Traceability.Core.Concrete;

/// <summary>Age of a test: elapsed time between two moments with their offsets, so that a change of clocks does not move it.</summary>
public static class TestAge
{
    /// <summary>Whether a break falls inside an age with its tolerance, both ends included.</summary>
    /// <param name="ageHours">Nominal age, hours.</param>
    /// <param name="toleranceHours">Permissible tolerance either way, hours.</param>
    public static bool IsAt(DateTimeOffset cast, DateTimeOffset broken, decimal ageHours, decimal toleranceHours) =>
        Math.Abs(Hours(cast, broken) - ageHours) <= toleranceHours;

    /// <summary>Elapsed hours, exact to the clock tick.</summary>
    public static decimal Hours(DateTimeOffset from, DateTimeOffset to) => (decimal)(to - from).Ticks / TimeSpan.TicksPerHour;
}
