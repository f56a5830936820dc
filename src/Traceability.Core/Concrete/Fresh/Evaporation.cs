using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>Which of the two published forms gave a rate; they differ by about 4 %, so the form is stored with the figure.</summary>
public enum EvaporationForm { Customary, Si }

/// <summary>
/// Rate of evaporation from the surface of fresh concrete after Uno, ACI Materials Journal 95-M34, 1998, in ACI 305R and 308R
/// (both forms published). Wind is measured at 0.5 m above the surface.
/// </summary>
public static class Evaporation
{
    /// <summary>Rate from which precautions are taken, lb/ft2/h. Federal guide specification UFGS 03300N (published).</summary>
    public const decimal ActionLbFt2H = 0.2m;

    /// <summary>A lower limit that is quoted too, lb/ft2/h (published); it suits concrete that bleeds little (from memory).</summary>
    public const decimal LowBleedLbFt2H = 0.1m;

    /// <summary>Rate in lb/ft2/h from degrees Fahrenheit, relative humidity 0 to 1 and miles per hour.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A temperature is below 0 F, humidity is not from 0 to 1, or the wind is below 0.</exception>
    public static decimal LbFt2H(decimal concreteF, decimal airF, decimal humidity, decimal windMph)
    {
        Check(humidity, windMph);
        return (Exact.Power25(concreteF) - humidity * Exact.Power25(airF)) * (1 + 0.4m * windMph) / 1_000_000;
    }

    /// <summary>Rate in kg/m2/h from degrees Celsius, relative humidity 0 to 1 and kilometres per hour.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A temperature is below -18 C, humidity is not from 0 to 1, or the wind is below 0.</exception>
    public static decimal KgM2H(decimal concreteC, decimal airC, decimal humidity, decimal windKmh)
    {
        Check(humidity, windKmh);
        return 5 * (Exact.Power25(concreteC + 18) - humidity * Exact.Power25(airC + 18)) * (windKmh + 4) / 1_000_000;
    }

    private static void Check(decimal humidity, decimal wind)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(humidity);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(humidity, 1);
        ArgumentOutOfRangeException.ThrowIfNegative(wind);
    }
}
