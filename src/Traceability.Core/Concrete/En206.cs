namespace Traceability.Core.Concrete;

/// <summary>Conformity of compressive strength by EN 206, an alternative to the American criteria. Everything in megapascals.</summary>
public static class En206
{
    /// <summary>How far a single result may be below the characteristic strength, MPa. EN 206 (published).</summary>
    public const decimal SingleUnder = 4;

    /// <summary>Initial production: mean of three results above the characteristic strength, MPa. EN 206 (from memory).</summary>
    public const decimal InitialOver = 4;

    /// <summary>Continuous production: factor on the standard deviation. EN 206 (from memory).</summary>
    public const decimal Factor = 1.48m;

    /// <summary>The established deviation is kept while that of the last fifteen lies between these shares of it. EN 206 (published).</summary>
    public static readonly (decimal Least, decimal Greatest) Kept = (0.63m, 1.37m);

    /// <summary>Factor from the mean moving range to the standard deviation. EN 206 guidance (published).</summary>
    public const decimal FromRange = 0.886m;

    public const int InitialResults = 3, ContinuousResults = 15;

    /// <summary>Initial production, three results; null for another number.</summary>
    public static bool? Initial(IReadOnlyCollection<decimal> results, decimal characteristic) => results.Count != InitialResults ? null
        : results.Sum() >= (characteristic + InitialOver) * InitialResults && results.Min() >= characteristic - SingleUnder;

    /// <summary>Continuous production, at least fifteen results with an established standard deviation; null below fifteen.</summary>
    public static bool? Continuous(IReadOnlyCollection<decimal> results, decimal characteristic, decimal sigma) => results.Count < ContinuousResults ? null
        : results.Average() >= characteristic + Factor * sigma && results.Min() >= characteristic - SingleUnder;

    /// <summary>Whether the established standard deviation still stands by the last fifteen results; null below fifteen.</summary>
    public static bool? SigmaKept(IReadOnlyList<decimal> results, decimal sigma) => results.Count < ContinuousResults ? null
        : Statistics.StandardDeviation([.. results.Skip(results.Count - ContinuousResults)]) is { } s && s >= Kept.Least * sigma && s <= Kept.Greatest * sigma;

    /// <summary>Standard deviation from the mean difference of neighbours; null below two results.</summary>
    public static decimal? SigmaFromRanges(IReadOnlyList<decimal> results) => results.Count < 2 ? null : FromRange * Statistics.MovingRanges(results).Average();
}
