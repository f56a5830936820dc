namespace Traceability.Core.Concrete;

/// <summary>Age of a test: elapsed time between two moments with their offsets, so that a change of clocks does not move it.</summary>
public static class TestAge
{
    /// <summary>Age and tolerance either way, hours. ASTM C39/C39M, permissible time tolerances (published; 12 h from memory).</summary>
    private static readonly Dictionary<decimal, decimal> Tolerances = new()
    {
        [12] = 0.25m,
        [24] = 0.5m,
        [3 * 24] = 2,
        [7 * 24] = 6,
        [28 * 24] = 20,
        [90 * 24] = 48,
    };

    /// <summary>Tolerance of an age without an entry of its own, percent of the age. ASTM C39/C39M (from memory).</summary>
    public const decimal OtherAgesPct = 2;

    /// <summary>Tolerance either way of a test age, hours: the table's where it has the age, else 2 % of the age.</summary>
    /// <param name="ageHours">Nominal age, hours, above 0.</param>
    /// <exception cref="ArgumentOutOfRangeException">The age is not above 0.</exception>
    public static decimal ToleranceHours(decimal ageHours)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(ageHours);
        return Tolerances.TryGetValue(ageHours, out var tolerance) ? tolerance : ageHours * OtherAgesPct / 100;
    }

    /// <summary>Whether a break falls inside an age with its tolerance, both ends included.</summary>
    /// <param name="ageHours">Nominal age, hours.</param>
    /// <param name="toleranceHours">Permissible tolerance either way, hours.</param>
    public static bool IsAt(DateTimeOffset cast, DateTimeOffset broken, decimal ageHours, decimal toleranceHours) =>
        Math.Abs(Hours(cast, broken) - ageHours) <= toleranceHours;

    /// <summary>First and last moment of a test age, at the offset of the casting: elapsed hours, never hours of the wall clock.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The window leaves the calendar.</exception>
    public static (DateTimeOffset First, DateTimeOffset Last) Window(DateTimeOffset cast, decimal ageHours, decimal toleranceHours) =>
        (cast.AddTicks(Ticks(ageHours - toleranceHours)), cast.AddTicks(Ticks(ageHours + toleranceHours)));

    /// <summary>Elapsed hours, exact to the clock tick.</summary>
    public static decimal Hours(DateTimeOffset from, DateTimeOffset to) => (decimal)(to - from).Ticks / TimeSpan.TicksPerHour;

    private static long Ticks(decimal hours) => (long)(hours * TimeSpan.TicksPerHour);
}
