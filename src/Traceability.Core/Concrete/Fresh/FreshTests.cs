using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>How much the ring of a J-ring test holds concrete back.</summary>
public enum Blocking { NoneVisible, MinimalToNoticeable, NoticeableToExtreme }

/// <summary>Resistance to static segregation by the penetration test.</summary>
public enum SegregationResistance { Resistant, Moderate, NotResistant }

/// <summary>Results of tests of fresh concrete from what was read.</summary>
public static class FreshTests
{
    /// <summary>Step of a reported slump flow, inches. ASTM C1611/C1611M (from memory).</summary>
    public const decimal FlowStepIn = 0.5m;

    /// <summary>Two diameters further apart make the test invalid, inches. ASTM C1611/C1611M (from memory).</summary>
    public const decimal DiametersApartIn = 2;

    /// <summary>Largest aggregate for a slump flow test, inches. ASTM C1611/C1611M (published).</summary>
    public const decimal FlowAggregateIn = 1;

    /// <summary>Step of a reported slump, inches. ASTM C143/C143M (published).</summary>
    public const decimal SlumpStepIn = 0.25m;

    /// <summary>Seconds to lift the slump cone. ASTM C143/C143M, 5 +- 2 s (published).</summary>
    public static readonly Band ConeLiftS = new(3, 7);

    /// <summary>Largest time of a whole slump test, seconds: 2 1/2 min. ASTM C143/C143M (published).</summary>
    public const decimal SlumpTestS = 150;

    /// <summary>Largest aggregate for a slump test, inches. ASTM C143/C143M (published).</summary>
    public const decimal SlumpAggregateIn = 1.5m;

    /// <summary>Step of a reported temperature, degrees Fahrenheit. ASTM C1064/C1064M (from memory).</summary>
    public const decimal TemperatureStepF = 1;

    /// <summary>Minutes after insertion in which the temperature is read. ASTM C1064/C1064M (published).</summary>
    public static readonly Band TemperatureReadMin = new(2, 5);

    /// <summary>Digits of a reported air content in percent. ASTM C231/C231M (from memory).</summary>
    public const int AirDigits = 1;

    /// <summary>Seconds to 20 in (500 mm) of a concrete of low viscosity; up to 10 s is quoted elsewhere (published, sources disagree).</summary>
    public static readonly Band LowViscosityT20S = new(2, 5);

    /// <summary>Highest visual stability index that is usually accepted; 0 is highly stable, 3 highly unstable. ASTM C1611/C1611M (published).</summary>
    public const int StableIndex = 1;

    /// <summary>Minutes a column stands before it is cut. ASTM C1610/C1610M (published).</summary>
    public const decimal ColumnStandsMin = 15;

    /// <summary>Segregation in a column that is commonly accepted, percent; 15 is seen. ACI 237R (from memory).</summary>
    public const decimal ColumnSegregationPct = 10;

    /// <summary>Slump flow: mean of two diameters at right angles, inches, to 1/2 in by the rule. ASTM C1611/C1611M.</summary>
    public static decimal FlowIn(decimal firstIn, decimal secondIn, RoundingRule rule) => Rounding.RoundTo((firstIn + secondIn) / 2, FlowStepIn, rule);

    /// <summary>Whether two diameters make a test; further apart than the limit, inches, it is repeated.</summary>
    public static bool FlowValid(decimal firstIn, decimal secondIn, decimal apartIn = DiametersApartIn) => Math.Abs(firstIn - secondIn) <= apartIn;

    /// <summary>Slump, inches, to 1/4 in by the rule: cone of 12 in less the height of the concrete. ASTM C143/C143M.</summary>
    public static decimal SlumpIn(decimal heightLeftIn, RoundingRule rule) => Rounding.RoundTo(12 - heightLeftIn, SlumpStepIn, rule);

    /// <summary>Air content, percent: gauge reading less the aggregate correction factor. ASTM C231/C231M (from memory).</summary>
    public static decimal AirPct(decimal gaugePct, decimal correctionPct) => gaugePct - correctionPct;

    /// <summary>
    /// Blocking by the difference of slump flow and J-ring flow, inches, both with the cone the same way up: to 1, to 2 and
    /// above. ASTM C1621/C1621M (below 1 and above 2 published, the row between from memory).
    /// </summary>
    public static Blocking JRing(decimal flowIn, decimal ringFlowIn) => (flowIn - ringFlowIn) switch { <= 1 => Blocking.NoneVisible, <= 2 => Blocking.MinimalToNoticeable, _ => Blocking.NoticeableToExtreme };

    /// <summary>
    /// Segregation of a column, percent: the difference of washed coarse aggregate below and above over its mean; 0 when below
    /// there is no more than above. ASTM C1610/C1610M (difference over mean published, the formula from memory).
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">There is no aggregate.</exception>
    public static decimal ColumnPct(decimal top, decimal bottom)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(top + bottom);
        return bottom <= top ? 0 : 2 * (bottom - top) / (bottom + top) * 100;
    }

    /// <summary>Resistance by penetration, millimetres: below 10, below 25, from 25 on. ASTM C1712 (from memory).</summary>
    public static SegregationResistance Penetration(decimal depthMm) =>
        depthMm < 10 ? SegregationResistance.Resistant : depthMm < 25 ? SegregationResistance.Moderate : SegregationResistance.NotResistant;

    /// <summary>
    /// Whether a temperature counts: 3 in of concrete around the sensor and three times the largest aggregate, read 2 to 5 min
    /// after insertion. Inches, minutes. ASTM C1064/C1064M (published).
    /// </summary>
    public static bool TemperatureValid(decimal coverIn, decimal aggregateIn, decimal minutes) =>
        coverIn >= Math.Max(3, 3 * aggregateIn) && TemperatureReadMin.Holds(minutes);
}
