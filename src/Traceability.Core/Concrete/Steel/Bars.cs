using System.Globalization;

namespace Traceability.Core.Concrete;

/// <summary>Nominal dimensions of deformed bars and the arithmetic of their placing.</summary>
public static class Bars
{
    /// <summary>
    /// Nominal dimensions by bar number, customary and SI as printed. PCI Design Handbook, 7th edition, Design Aid 15.4.1
    /// (published). The printed table is used, not its formula: the printed figures are rounded, and those in SI are rounded
    /// again (No. 5: 199 mm2 printed, 0.31 in2 converts to 200).
    /// </summary>
    private static readonly Dictionary<int, NominalBar> Table = new[]
    {
        new NominalBar(3, 10, 0.375m, 0.11m, 0.376m, 1.178m, 9.5m, 71, 0.560m),
        new NominalBar(4, 13, 0.500m, 0.20m, 0.668m, 1.571m, 12.7m, 129, 0.994m),
        new NominalBar(5, 16, 0.625m, 0.31m, 1.043m, 1.963m, 15.9m, 199, 1.552m),
        new NominalBar(6, 19, 0.750m, 0.44m, 1.502m, 2.356m, 19.1m, 284, 2.235m),
        new NominalBar(7, 22, 0.875m, 0.60m, 2.044m, 2.749m, 22.2m, 387, 3.042m),
        new NominalBar(8, 25, 1.000m, 0.79m, 2.670m, 3.142m, 25.4m, 510, 3.973m),
        new NominalBar(9, 29, 1.128m, 1.00m, 3.400m, 3.544m, 28.7m, 645, 5.060m),
        new NominalBar(10, 32, 1.270m, 1.27m, 4.303m, 3.990m, 32.3m, 819, 6.404m),
        new NominalBar(11, 36, 1.410m, 1.56m, 5.313m, 4.430m, 35.8m, 1006, 7.907m),
        new NominalBar(14, 43, 1.693m, 2.25m, 7.650m, 5.32m, 43.0m, 1452, 11.380m),
        new NominalBar(18, 57, 2.257m, 4.00m, 13.600m, 7.09m, 57.3m, 2581, 20.240m),
    }.ToDictionary(b => b.Number);

    /// <summary>All sizes of the table, smallest first.</summary>
    public static IReadOnlyList<NominalBar> All { get; } = [.. Table.Values.OrderBy(b => b.Number)];

    /// <summary>The nominal bar of a size written "#5" or "5"; null when the table has none.</summary>
    public static NominalBar? Nominal(string size) =>
        int.TryParse(size.AsSpan().TrimStart('#'), NumberStyles.None, CultureInfo.InvariantCulture, out var number) ? Table.GetValueOrDefault(number) : null;

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
/// <param name="Number">Bar number in eighths of an inch, as in "#5".</param>
/// <param name="SiMark">Soft-metric mark of the same bar.</param>
/// <param name="DiameterIn">Nominal diameter, inches.</param>
/// <param name="AreaIn2">Nominal area, square inches.</param>
/// <param name="WeightLbPerFt">Nominal weight, pounds per foot.</param>
/// <param name="PerimeterIn">Nominal perimeter, inches.</param>
/// <param name="DiameterMm">Nominal diameter, millimetres.</param>
/// <param name="AreaMm2">Nominal area, square millimetres.</param>
/// <param name="MassKgPerM">Nominal mass, kilograms per metre.</param>
public sealed record NominalBar(int Number, int SiMark, decimal DiameterIn, decimal AreaIn2, decimal WeightLbPerFt, decimal PerimeterIn, decimal DiameterMm, decimal AreaMm2, decimal MassKgPerM);
