using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>Compressive strength of cylinders and cores: area, correction for short specimens, rounding, range.</summary>
public static class Strength
{
    private const decimal Pi = 3.1415926535897932384626433833m;

    /// <summary>Step of a reported strength, psi. ASTM C39/C39M and AASHTO T 22 (published).</summary>
    public const decimal ReportStepPsi = 10m;

    /// <summary>Digits of a reported mean diameter in inches, to 0.01 in. AASHTO T 22 (published).</summary>
    public const int DiameterDigits = 2;

    /// <summary>Length to diameter ratio up to which strength is corrected. ASTM C39/C39M, section 8 (from memory).</summary>
    public const decimal CorrectedUpTo = 1.75m;

    /// <summary>Length to diameter ratio and factor. ASTM C39/C39M, section 8 (from memory); between them by straight line.</summary>
    private static readonly (decimal Ratio, decimal Factor)[] Corrections = [(1.00m, 0.87m), (1.25m, 0.93m), (1.50m, 0.96m), (1.75m, 0.98m)];

    /// <summary>How far two diameters are apart, percent of the smaller.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A diameter is not above 0.</exception>
    public static decimal DiameterDifferencePct(decimal firstIn, decimal secondIn)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(firstIn);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(secondIn);
        return Math.Abs(firstIn - secondIn) / Math.Min(firstIn, secondIn) * 100;
    }

    /// <summary>Mean of two diameters at right angles, inches, rounded to 0.01 in by the rule.</summary>
    public static decimal MeanDiameterIn(decimal firstIn, decimal secondIn, RoundingRule rule) =>
        Rounding.Round((firstIn + secondIn) / 2, DiameterDigits, rule);

    /// <summary>Area of a circle, square inches, from its diameter in inches.</summary>
    public static decimal AreaIn2(decimal diameterIn) => Pi * diameterIn * diameterIn / 4;

    /// <summary>
    /// Factor for the ratio of length to diameter: 1 above 1.75, by straight line between the table's points, null below 1.0
    /// where the table ends. ASTM C39/C39M, section 8 (from memory).
    /// </summary>
    public static decimal? LengthFactor(decimal lengthIn, decimal diameterIn)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(diameterIn);
        var ratio = lengthIn / diameterIn;
        if (ratio > CorrectedUpTo) return 1;
        for (var i = 1; i < Corrections.Length; i++)
        {
            var (below, above) = (Corrections[i - 1], Corrections[i]);
            if (ratio >= below.Ratio && ratio <= above.Ratio)
                return below.Factor + (ratio - below.Ratio) / (above.Ratio - below.Ratio) * (above.Factor - below.Factor);
        }

        return null;
    }

    /// <summary>
    /// Strength of one specimen, psi, to 10 psi by the rule: load in pounds-force over the area of the mean diameter, times
    /// the factor for its length. Null when the specimen is shorter than its diameter.
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">A diameter is not above 0.</exception>
    public static decimal? Psi(decimal loadLbf, decimal diameter1In, decimal diameter2In, decimal lengthIn, RoundingRule rule)
    {
        var diameter = MeanDiameterIn(diameter1In, diameter2In, rule);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(diameter);
        return LengthFactor(lengthIn, diameter) is { } factor ? Rounding.RoundTo(loadLbf / AreaIn2(diameter) * factor, ReportStepPsi, rule) : null;
    }

    /// <summary>Mean of a set's reported strengths, psi, to 10 psi by the rule.</summary>
    /// <exception cref="InvalidOperationException">The set is empty.</exception>
    public static decimal MeanPsi(IReadOnlyCollection<decimal> strengthsPsi, RoundingRule rule) =>
        Rounding.RoundTo(strengthsPsi.Average(), ReportStepPsi, rule);

    /// <summary>Range of a set's strengths, percent of their mean: a flag on the quality of the data, not on the concrete.</summary>
    /// <exception cref="InvalidOperationException">The set is empty.</exception>
    public static decimal RangePct(IReadOnlyCollection<decimal> strengthsPsi) =>
        (strengthsPsi.Max() - strengthsPsi.Min()) / strengthsPsi.Average() * 100;

    /// <summary>
    /// Largest acceptable range of companion cylinders, percent of their mean, for 2 or 3 cylinders; null where the standard
    /// states none (4 x 8 in cylinders made in the field). ASTM C39/C39M, precision (from memory).
    /// </summary>
    public static decimal? AcceptableRangePct(string size, bool madeInField, int cylinders) => (size, madeInField, cylinders) switch
    {
        ("6x12", false, 2) => 6.6m,
        ("6x12", false, 3) => 7.8m,
        ("6x12", true, 2) => 8.0m,
        ("6x12", true, 3) => 9.5m,
        ("4x8", false, 2) => 9.0m,
        ("4x8", false, 3) => 10.6m,
        _ => null,
    };
}
