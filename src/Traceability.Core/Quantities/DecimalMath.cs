namespace Traceability.Core.Quantities;

/// <summary>
/// Root, exponential and logarithm in decimal arithmetic by their series, so that a browser and a server get the same digits:
/// the framework's own are only as equal as two machines' libraries. Good to at least 20 digits.
/// </summary>
public static class DecimalMath
{
    private const decimal Ln2 = 0.6931471805599453094172321215m;

    /// <summary>Largest exponent either way; beyond it a decimal overflows.</summary>
    public const decimal LargestExponent = 60;

    /// <summary>Square root.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The value is below 0.</exception>
    public static decimal Sqrt(decimal value)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(value);
        if (value == 0) return 0;
        // The first guess is exact to 15 digits on every machine (IEEE 754); two steps of Newton give the rest.
        var root = (decimal)Math.Sqrt((double)value);
        if (root == 0) return 0;
        for (var i = 0; i < 2; i++) root = (root + value / root) / 2;
        return root;
    }

    /// <summary>e to a power.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The power is beyond 60 either way.</exception>
    public static decimal Exp(decimal power)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(power, LargestExponent);
        ArgumentOutOfRangeException.ThrowIfLessThan(power, -LargestExponent);
        if (power < 0) return 1 / Exp(-power);
        var twos = (int)decimal.Round(power / Ln2);
        var rest = power - twos * Ln2;
        var term = 1m;
        var sum = 1m;
        for (var n = 1; n <= 24; n++)
        {
            term *= rest / n;
            sum += term;
        }

        for (; twos > 0; twos--) sum *= 2;
        return sum;
    }

    /// <summary>Natural logarithm.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The value is not above 0.</exception>
    public static decimal Ln(decimal value)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(value);
        var twos = 0;
        for (; value > 1.5m; value /= 2) twos++;
        for (; value < 0.75m; value *= 2) twos--;
        var ratio = (value - 1) / (value + 1);
        var square = ratio * ratio;
        var power = ratio;
        var sum = 0m;
        for (var n = 1; n <= 49; n += 2)
        {
            sum += power / n;
            power *= square;
        }

        return 2 * sum + twos * Ln2;
    }
}
