namespace Traceability.Core.Concrete;

/// <summary>
/// Criteria of a series of strength tests. ACI 318-19, 26.12.3.1 (published): every mean of three tests in a row at least
/// f'c; no test below f'c - 500 psi where f'c is 5,000 psi or less, below 0.90 f'c where it is more.
/// </summary>
/// <param name="Running">Tests in a row whose mean is judged.</param>
/// <param name="UpToPsi">Design strength up to which <paramref name="UnderPsi"/> counts; above it <paramref name="UnderShare"/>.</param>
/// <param name="UnderPsi">How far a single test may be below the design strength, psi.</param>
/// <param name="UnderShare">Share of the design strength that a single test must reach, 0 to 1.</param>
public sealed record SeriesCriteria(int Running, decimal UpToPsi, decimal UnderPsi, decimal UnderShare)
{
    public static readonly SeriesCriteria Aci318 = new(3, 5000, 500, 0.90m);

    /// <summary>The same in megapascals: 35 MPa, 3.5 MPa. ACI 318M-19 (published).</summary>
    public static readonly SeriesCriteria Aci318M = new(3, 35, 3.5m, 0.90m);

    /// <summary>Least single test for a design strength, in its unit.</summary>
    public decimal LeastSingle(decimal design) => design <= UpToPsi ? design - UnderPsi : design * UnderShare;
}

/// <summary>One test of a series against the criteria.</summary>
/// <param name="Running">Mean of this test and those just before it; null before there are enough.</param>
/// <param name="MeanLow">The mean is below the design strength: the mix has to be raised.</param>
/// <param name="SingleLow">The test is below its own limit: the mix has to be raised, and the units it stands for are investigated.</param>
public sealed record SeriesPoint(decimal Test, decimal? Running, bool MeanLow, bool SingleLow)
{
    /// <summary>Steps to raise the average are due. ACI 318-19, 26.12.3.1 (published).</summary>
    public bool MixAction => MeanLow || SingleLow;

    /// <summary>The concrete this test stands for is to be investigated. ACI 318-19, 26.12.6 (published; 26.12.4 in 318-14).</summary>
    public bool Investigate => SingleLow;
}

/// <summary>A set of cores against its limits.</summary>
/// <param name="MeanPct">Mean of the cores, percent of the design strength.</param>
/// <param name="LeastPct">Lowest core, percent of the design strength.</param>
public sealed record CoreResult(decimal MeanPct, decimal LeastPct, bool Met);

/// <summary>What a share of a design strength is compared as.</summary>
public enum ShareReading
{
    /// <summary>The figure itself.</summary>
    Strict,

    /// <summary>
    /// The limit is meant to its own digit: "85 %" is reached by 84.5 %. ACI Technical Committee Manual 2020, 11.6.7 (published).
    /// </summary>
    ImpliedTolerance,
}

/// <summary>Acceptance of strength tests: by a running series, by a product standard's lot, by cores, by field-cured companions.</summary>
public static class StrengthAcceptance
{
    /// <summary>Cores taken for one low test. ACI 318-19, 26.12.6.1 (published).</summary>
    public const int Cores = 3;

    /// <summary>Least mean and least single core, percent of the design strength. ACI 318-19, 26.12.6.1(e) (published).</summary>
    public static readonly (decimal MeanPct, decimal SinglePct) CoreLimits = (85, 75);

    /// <summary>Days a core is kept sealed before it is broken, least and greatest. ASTM C42/C42M (from memory).</summary>
    public static readonly (decimal Least, decimal Greatest) CoreDays = (5, 7);

    /// <summary>Field-cured companions: least percent of the standard-cured, or so much above the design strength in psi. ACI 318-19, 26.5.3.2 (from memory).</summary>
    public static readonly (decimal Pct, decimal OverPsi) FieldCured = (85, 500);

    /// <summary>Product standards of box sections: most tests below the design strength, percent, and least share of it. ASTM C1577 (from memory).</summary>
    public static readonly (decimal MostBelowPct, decimal LeastPct) Product = (10, 80);

    /// <summary>Every test of a series, oldest first, against the criteria. Units follow the criteria's.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The design strength is not above 0.</exception>
    public static IReadOnlyList<SeriesPoint> Series(IReadOnlyList<decimal> tests, decimal design, SeriesCriteria criteria)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(design);
        var points = new List<SeriesPoint>(tests.Count);
        for (var i = 0; i < tests.Count; i++)
        {
            decimal? sum = i + 1 >= criteria.Running ? Enumerable.Range(i + 1 - criteria.Running, criteria.Running).Sum(k => tests[k]) : null;
            // The sum is compared, because a third has no end as a decimal.
            points.Add(new SeriesPoint(tests[i], sum / criteria.Running, sum < design * criteria.Running, tests[i] < criteria.LeastSingle(design)));
        }

        return points;
    }

    /// <summary>
    /// A lot by a product standard: mean at least the design strength, at most so many tests below it, none below so much of
    /// it; tests of any age up to the stated one. Null without tests.
    /// </summary>
    public static LotResult? Lot(IReadOnlyCollection<decimal> testsPsi, decimal designPsi, decimal mostBelowPct, decimal leastPct)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(designPsi);
        if (testsPsi.Count == 0) return null;
        var below = testsPsi.Count(t => t < designPsi);
        var mean = testsPsi.Average();
        var least = testsPsi.Min();
        return new LotResult(mean, least, below, testsPsi.Sum() >= designPsi * testsPsi.Count && below * 100 <= testsPsi.Count * mostBelowPct && least * 100 >= designPsi * leastPct);
    }

    /// <summary>Cores of one low test. Null when fewer than needed were broken.</summary>
    /// <param name="coresPsi">Core strengths, psi, corrected for their length.</param>
    public static CoreResult? CoreTest(IReadOnlyCollection<decimal> coresPsi, decimal designPsi, decimal meanPct, decimal singlePct, ShareReading reading, int fewest = Cores)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(designPsi);
        if (coresPsi.Count < Math.Max(1, fewest)) return null;
        var (mean, least) = (coresPsi.Average() / designPsi * 100, coresPsi.Min() / designPsi * 100);
        return new CoreResult(mean, least, Reaches(mean, meanPct, reading) && Reaches(least, singlePct, reading));
    }

    /// <summary>Whether a share in percent reaches a limit printed in whole percent.</summary>
    public static bool Reaches(decimal sharePct, decimal limitPct, ShareReading reading) =>
        sharePct >= limitPct - (reading == ShareReading.ImpliedTolerance ? 0.5m : 0);

    /// <summary>Whether field-cured cylinders show that curing was good enough: so much of the standard-cured companions, or so much above the design strength.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The companions' strength is not above 0.</exception>
    public static bool CuringShown(decimal fieldPsi, decimal standardPsi, decimal designPsi, decimal leastPct, decimal overPsi)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(standardPsi);
        return fieldPsi * 100 >= standardPsi * leastPct || fieldPsi >= designPsi + overPsi;
    }
}

/// <summary>A lot of tests against a product standard.</summary>
/// <param name="Mean">Mean of the tests, psi.</param>
/// <param name="Least">Lowest test, psi.</param>
/// <param name="Below">Tests below the design strength.</param>
public sealed record LotResult(decimal Mean, decimal Least, int Below, bool Met);
