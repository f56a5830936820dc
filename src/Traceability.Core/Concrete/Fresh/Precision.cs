namespace Traceability.Core.Concrete;

/// <summary>How far two proper results on one concrete may be apart.</summary>
/// <param name="SingleOperator">Two results of one operator; null where the standard states none for the range.</param>
/// <param name="Multilaboratory">Results of two laboratories; null where none is stated.</param>
public readonly record struct AcceptableDifference(decimal? SingleOperator, decimal? Multilaboratory)
{
    /// <summary>Whether two results of one operator agree; null when the standard does not say.</summary>
    public bool? Agree(decimal first, decimal second) => SingleOperator is { } most ? Math.Abs(first - second) <= most : null;
}

/// <summary>Differences of two results (d2s) of tests of fresh concrete, from the standards' statements of precision (from memory).</summary>
public static class Precision
{
    /// <summary>Slump, inches, at the printed slumps 1.2, 3.4 and 6.5 in; the nearest row counts. ASTM C143/C143M.</summary>
    public static AcceptableDifference SlumpIn(decimal slumpIn) => slumpIn switch { < 2.3m => new(0.65m, 0.82m), < 4.95m => new(1.07m, 1.10m), _ => new(1.13m, 1.50m) };

    /// <summary>Density, lb/ft3. ASTM C138/C138M.</summary>
    public static readonly AcceptableDifference DensityLbFt3 = new(1.85m, 2.31m);

    /// <summary>Air by the pressure meter, percent, up to 7 % of air, meter type A. ASTM C231/C231M.</summary>
    public static readonly AcceptableDifference AirPct = new(null, 0.8m);

    /// <summary>Slump flow, inches. ASTM C1611/C1611M.</summary>
    public static readonly AcceptableDifference FlowIn = new(3.0m, 3.0m);

    /// <summary>Temperature, degrees Fahrenheit. ASTM C1064/C1064M.</summary>
    public static readonly AcceptableDifference TemperatureF = new(1.3m, 1.9m);
}
