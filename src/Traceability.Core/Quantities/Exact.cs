namespace Traceability.Core.Quantities;

/// <summary>Roots and pi in decimal arithmetic, so that a browser and a server print the same digits.</summary>
public static class Exact
{
    public const decimal Pi = 3.1415926535897932384626433833m;

    /// <summary>Square root of a number from 0 to 1e20, to at least 20 significant digits.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The number is below 0.</exception>
    public static decimal Sqrt(decimal value)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(value);
        if (value == 0) return 0;
        // The binary root is right to 15 digits; every step of Newton's method doubles them.
        var root = (decimal)Math.Sqrt((double)value);
        for (var i = 0; i < 2; i++) root = (root + value / root) / 2;
        return root;
    }

    /// <summary>A number from 0 to 10,000 to the power 2.5, as in the evaporation formulas.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The number is below 0.</exception>
    public static decimal Power25(decimal value) => value * value * Sqrt(value);
}
