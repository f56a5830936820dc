using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>
/// Maturity of concrete from its temperatures, by the mean of each interval between two readings. ASTM C1074 (indices
/// published; formulas from memory). Parameters belong to the mix: those here are the standard's general ones.
/// </summary>
public static class Maturity
{
    /// <summary>Datum temperature of Type I cement without admixtures cured between 0 and 40 C, degrees Celsius. ASTM C1074 (from memory).</summary>
    public const decimal DatumC = 0;

    /// <summary>Activation energy over the gas constant, kelvin. ASTM C1074 (from memory).</summary>
    public const decimal ActivationK = 5000;

    /// <summary>Reference temperature of the equivalent age, degrees Celsius: 20 in older editions, 23 in newer ones. ASTM C1074 (from memory).</summary>
    public const decimal OlderReferenceC = 20, NewerReferenceC = 23;

    private const decimal Kelvin = 273.15m;

    /// <summary>Degrees Celsius of degrees Fahrenheit.</summary>
    public static decimal Celsius(decimal fahrenheit) => (fahrenheit - 32) * 5 / 9;

    /// <summary>
    /// Temperature-time factor (Nurse-Saul), degree Celsius hours: an interval at or below the datum temperature adds nothing.
    /// 0 below two readings.
    /// </summary>
    /// <param name="readings">In order of time.</param>
    /// <param name="datumC">Datum temperature, degrees Celsius.</param>
    public static decimal TemperatureTime(IReadOnlyList<CureReading> readings, decimal datumC) =>
        Sum(readings, mean => Math.Max(0, mean - datumC));

    /// <summary>Equivalent age (Arrhenius) at a reference temperature, hours. 0 below two readings.</summary>
    /// <param name="readings">In order of time.</param>
    /// <param name="activationK">Activation energy over the gas constant, kelvin, above 0.</param>
    /// <param name="referenceC">Reference temperature, degrees Celsius.</param>
    /// <exception cref="ArgumentOutOfRangeException">A temperature is at or below absolute zero, or so far from the reference that no figure can be stated.</exception>
    public static decimal EquivalentAgeHours(IReadOnlyList<CureReading> readings, decimal activationK, decimal referenceC)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(activationK);
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(referenceC, -Kelvin);
        return Sum(readings, mean =>
        {
            ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(mean, -Kelvin);
            return DecimalMath.Exp(-activationK * (1 / (mean + Kelvin) - 1 / (referenceC + Kelvin)));
        });
    }

    private static decimal Sum(IReadOnlyList<CureReading> readings, Func<decimal, decimal> rate)
    {
        var sum = 0m;
        for (var i = 1; i < readings.Count; i++)
        {
            var (before, here) = (readings[i - 1], readings[i]);
            if (here.Hours > before.Hours) sum += rate(Celsius((before.TemperatureF + here.TemperatureF) / 2)) * (here.Hours - before.Hours);
        }

        return sum;
    }
}

/// <summary>
/// Strength of a mix against its maturity: a straight line on the logarithm of maturity, fitted to the plant's own tests.
/// ASTM C1074 leaves the form of the curve free; the logarithm is common practice. It answers inside the tested maturities only.
/// </summary>
/// <param name="Least">Lowest maturity tested.</param>
/// <param name="Greatest">Highest maturity tested.</param>
public sealed record StrengthMaturity(Line OnLogarithm, decimal Least, decimal Greatest)
{
    /// <summary>Fewest ages tested for a relation. ASTM C1074, tests at 1, 3, 7, 14 and 28 days (from memory).</summary>
    public const int FewestTests = 5;

    /// <summary>Greatest difference between a verification test and the relation, percent of the relation. ASTM C1074 (from memory).</summary>
    public const decimal VerifiedWithinPct = 10;

    /// <summary>The relation through tests of (maturity, strength in psi); null below five maturities or when strength does not grow.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A maturity is not above 0.</exception>
    public static StrengthMaturity? Fit(IReadOnlyCollection<(decimal Maturity, decimal Psi)> tests)
    {
        if (tests.Select(t => t.Maturity).Distinct().Count() < FewestTests) return null;
        var line = Statistics.Fit([.. tests.Select(t => (DecimalMath.Ln(t.Maturity), t.Psi))])!;
        return line.Slope > 0 ? new StrengthMaturity(line, tests.Min(t => t.Maturity), tests.Max(t => t.Maturity)) : null;
    }

    /// <summary>Strength at a maturity, psi; null outside the tested maturities.</summary>
    public decimal? PsiAt(decimal maturity) => maturity >= Least && maturity <= Greatest ? OnLogarithm.At(DecimalMath.Ln(maturity)) : null;

    /// <summary>Maturity at which a strength in psi is reached; null outside the tested maturities.</summary>
    public decimal? MaturityFor(decimal psi)
    {
        var power = (psi - OnLogarithm.Intercept) / OnLogarithm.Slope;
        if (Math.Abs(power) > DecimalMath.LargestExponent) return null;
        var maturity = DecimalMath.Exp(power);
        return maturity >= Least && maturity <= Greatest ? maturity : null;
    }

    /// <summary>
    /// Hours until a strength is reached when the concrete keeps a temperature: a forecast for planning, never evidence.
    /// 0 when it is reached; null when it cannot be told.
    /// </summary>
    /// <param name="soFar">Temperature-time factor so far, degree Celsius hours.</param>
    /// <param name="temperatureC">Concrete temperature from now on, degrees Celsius.</param>
    public decimal? HoursUntil(decimal psi, decimal soFar, decimal temperatureC, decimal datumC) => MaturityFor(psi) is not { } needed ? null
        : needed <= soFar ? 0 : temperatureC > datumC ? (needed - soFar) / (temperatureC - datumC) : null;

    /// <summary>Whether a test agrees with the relation; null outside the tested maturities.</summary>
    public bool? Verifies(decimal maturity, decimal psi) => PsiAt(maturity) is { } expected ? Math.Abs(psi - expected) * 100 <= expected * VerifiedWithinPct : null;
}
