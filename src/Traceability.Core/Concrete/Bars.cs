namespace Traceability.Core.Concrete;

/// <summary>Nominal dimensions of deformed bars and the arithmetic of their placing.</summary>
public static class Bars
{
    /// <summary>
    /// Nominal diameter in inches, area in square inches and weight in pounds per foot by bar number. PCI Design Handbook,
    /// 7th edition, Design Aid 15.4.1 (published). The printed table is used, not its formula: the printed figures are rounded.
    /// </summary>
    private static readonly Dictionary<int, NominalBar> Table = new()
    {
        [3] = new(0.375m, 0.11m, 0.376m),
        [4] = new(0.500m, 0.20m, 0.668m),
        [5] = new(0.625m, 0.31m, 1.043m),
        [6] = new(0.750m, 0.44m, 1.502m),
        [7] = new(0.875m, 0.60m, 2.044m),
        [8] = new(1.000m, 0.79m, 2.670m),
        [9] = new(1.128m, 1.00m, 3.400m),
        [10] = new(1.270m, 1.27m, 4.303m),
        [11] = new(1.410m, 1.56m, 5.313m),
        [14] = new(1.693m, 2.25m, 7.650m),
        [18] = new(2.257m, 4.00m, 13.600m),
    };

    /// <summary>The nominal bar of a size written "#5" or "5"; null when the table has none.</summary>
    public static NominalBar? Nominal(string size) =>
        int.TryParse(size.AsSpan().TrimStart('#'), System.Globalization.NumberStyles.None, System.Globalization.CultureInfo.InvariantCulture, out var number) ? Table.GetValueOrDefault(number) : null;

    /// <summary>Weight of bars, pounds: count, length in feet and nominal weight.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The count or the length is below 0.</exception>
    public static decimal WeightLb(NominalBar bar, int count, decimal lengthFt)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(count);
        ArgumentOutOfRangeException.ThrowIfNegative(lengthFt);
        return count * lengthFt * bar.WeightLbPerFt;
    }

    /// <summary>Steel area per foot of width, square inches per foot, of bars at a spacing in inches.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The spacing is not above 0.</exception>
    public static decimal AreaIn2PerFt(decimal areaIn2, decimal spacingIn)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(spacingIn);
        return areaIn2 * 12m / spacingIn;
    }

    /// <summary>
    /// Least cover allowed, inches: the specified cover less the smaller of a tolerance and, where a divisor is given, that
    /// part of the specified cover. ACI 318-19, Table 26.6.2.1 with divisor 3 (from memory); an owner may allow no reduction.
    /// </summary>
    /// <param name="divisor">3 for one third; null where the whole tolerance is allowed. A divisor that is not above 0 allows none.</param>
    public static decimal LeastCoverIn(decimal specifiedIn, decimal reductionIn, decimal? divisor = null) =>
        specifiedIn - (divisor switch
        {
            null => reductionIn,
            > 0 => Math.Min(reductionIn, specifiedIn / divisor.Value),
            _ => 0,
        });
}

/// <summary>A bar by its nominal dimensions.</summary>
/// <param name="DiameterIn">Nominal diameter, inches.</param>
/// <param name="AreaIn2">Nominal area, square inches.</param>
/// <param name="WeightLbPerFt">Nominal weight, pounds per foot.</param>
public sealed record NominalBar(decimal DiameterIn, decimal AreaIn2, decimal WeightLbPerFt);
