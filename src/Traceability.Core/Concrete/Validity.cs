namespace Traceability.Core.Concrete;

/// <summary>Days a calibration or a certificate is good for. The records carry the last day themselves; these check it.</summary>
public static class Validity
{
    /// <summary>Longest time between verifications of a compression machine, months. ASTM C39/C39M (from memory).</summary>
    public const int CompressionMachineMonths = 13;

    /// <summary>Greatest error of a compression machine, percent of the load, either way. AASHTO T 22 (published).</summary>
    public const decimal CompressionMachineErrorPct = 1.0m;

    /// <summary>Years a field or strength testing technician's certificate runs. ACI certification programs (published).</summary>
    public const int TechnicianYears = 5;

    /// <summary>
    /// Last day of a period of months. The same day of the month is the last ("through"), or the day before it is ("until"):
    /// programs differ, so the record states the day.
    /// </summary>
    public static DateOnly LastDay(DateOnly from, int months, bool through = true) => through ? from.AddMonths(months) : from.AddMonths(months).AddDays(-1);

    /// <summary>
    /// Whether results of a day are in doubt because a later check found the instrument out: everything since the last good
    /// check, both days included. Common practice, no source.
    /// </summary>
    /// <param name="asFoundPct">Error as found, percent.</param>
    /// <param name="largestPct">Largest error allowed either way, percent.</param>
    public static bool InDoubt(DateOnly day, DateOnly lastGood, DateOnly found, decimal asFoundPct, decimal largestPct) =>
        Math.Abs(asFoundPct) > largestPct && day >= lastGood && day <= found;
}
