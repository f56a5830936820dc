using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>Edition of the rule for a mix without enough records.</summary>
public enum NoRecordRule
{
    /// <summary>f'c above 5,000 psi: + 1,400 psi. ACI 318 before 318-02 (published).</summary>
    Before2002,

    /// <summary>f'c above 5,000 psi: 1.10 f'c + 700 psi. ACI 318-02 and later, ACI 301-16 4.2.3.3 (from memory).</summary>
    From2002,
}

/// <summary>Average strength that a mix is proportioned for, psi. ACI 301-16, 4.2.3.3; ACI 318-11, Table 5.3.2.1.</summary>
public static class RequiredAverage
{
    private const decimal UpToPsi = 5000;

    /// <summary>Factor on the standard deviation by number of tests. ACI 318-11, Table 5.3.1.2 (published); between by straight line.</summary>
    private static readonly (int Tests, decimal Factor)[] Factors = [(15, 1.16m), (20, 1.08m), (25, 1.03m), (30, 1.00m)];

    /// <summary>The factor for a number of tests; null below 15, where a standard deviation may not be used.</summary>
    public static decimal? Factor(int tests)
    {
        if (tests >= Factors[^1].Tests) return Factors[^1].Factor;
        for (var i = 1; i < Factors.Length; i++)
        {
            var (below, above) = (Factors[i - 1], Factors[i]);
            if (tests >= below.Tests && tests < above.Tests)
                return below.Factor + (above.Factor - below.Factor) * (tests - below.Tests) / (above.Tests - below.Tests);
        }

        return null;
    }

    /// <summary>Required average, psi, from a standard deviation of so many tests; null below 15 tests.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The design strength is not above 0, or the standard deviation is below 0.</exception>
    public static decimal? FromRecords(decimal designPsi, decimal standardDeviationPsi, int tests)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(designPsi);
        ArgumentOutOfRangeException.ThrowIfNegative(standardDeviationPsi);
        if (Factor(tests) is not { } k) return null;
        var ks = k * standardDeviationPsi;
        return Math.Max(designPsi + 1.34m * ks, designPsi <= UpToPsi ? designPsi + 2.33m * ks - 500 : 0.90m * designPsi + 2.33m * ks);
    }

    /// <summary>Required average, psi, without enough records, by edition.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The design strength is not above 0.</exception>
    public static decimal WithoutRecords(decimal designPsi, NoRecordRule rule)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(designPsi);
        return designPsi switch
        {
            < 3000 => designPsi + 1000,
            <= UpToPsi => designPsi + 1200,
            _ => rule == NoRecordRule.Before2002 ? designPsi + 1400 : 1.10m * designPsi + 700,
        };
    }

    /// <summary>
    /// Standard deviation of two records together, psi; null when they may not be pooled: fewer than 30 tests, or fewer than
    /// 10 in one. ACI 318-11, 5.3.1.1 (from memory).
    /// </summary>
    public static decimal? Pooled(int tests1, decimal standardDeviation1, int tests2, decimal standardDeviation2) =>
        tests1 < 10 || tests2 < 10 || tests1 + tests2 < 30 ? null
        : DecimalMath.Sqrt(((tests1 - 1) * standardDeviation1 * standardDeviation1 + (tests2 - 1) * standardDeviation2 * standardDeviation2) / (tests1 + tests2 - 2));
}
