namespace Traceability.Core.Concrete;

/// <summary>
/// How a specimen was capped, loaded and broke. The machine stores energy: shield closed and eye protection, by the usual
/// caution and local rules.
/// </summary>
public static class Breaking
{
    /// <summary>Loading rate over at least the second half of the load, psi a second. ASTM C39/C39M, 35 +-7 psi/s (published).</summary>
    public static readonly (decimal Least, decimal Greatest) RatePsiPerS = (28, 42);

    /// <summary>Greatest departure of the ends from square to the axis, degrees. ASTM C39/C39M and C1231/C1231M (published).</summary>
    public const decimal EndsOutOfSquareDeg = 0.5m;

    /// <summary>Types of fracture by the figure of ASTM C39/C39M (from memory).</summary>
    public static string? Fracture(int type) => type switch
    {
        1 => "well-formed cones on both ends, cracks through the caps shorter than 1 in",
        2 => "a cone on one end, vertical cracks through the caps",
        3 => "columnar vertical cracks through both ends, no cones",
        4 => "diagonal fracture without cracks through the ends; tap to tell it from type 1",
        5 => "side fractures at top or bottom, common with unbonded caps",
        6 => "as type 5, the end of the cylinder pointed",
        _ => null,
    };

    /// <summary>
    /// Mean loading rate over the second half of the load, psi a second, from readings of the machine in order of time; the
    /// moment of half the greatest load by straight line. Null when the readings do not reach down to half the load or no
    /// time passes.
    /// </summary>
    /// <param name="readings">Seconds and load, pounds-force.</param>
    /// <param name="areaIn2">Area of the specimen, square inches, above 0.</param>
    /// <exception cref="ArgumentOutOfRangeException">The area is not above 0.</exception>
    public static decimal? SecondHalfRatePsiPerS(IReadOnlyList<(decimal Seconds, decimal LoadLbf)> readings, decimal areaIn2)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(areaIn2);
        if (readings.Count < 2) return null;
        var most = readings.Max(r => r.LoadLbf);
        var top = readings.First(r => r.LoadLbf == most);
        var half = most / 2;
        for (var i = 1; i < readings.Count; i++)
        {
            var (before, here) = (readings[i - 1], readings[i]);
            if (before.LoadLbf > half || here.LoadLbf < half || here.LoadLbf == before.LoadLbf) continue;
            var at = before.Seconds + (here.Seconds - before.Seconds) * (half - before.LoadLbf) / (here.LoadLbf - before.LoadLbf);
            return top.Seconds > at ? (most - half) / areaIn2 / (top.Seconds - at) : null;
        }

        return null;
    }

    /// <summary>Whether a loading rate is inside the method's, ends included.</summary>
    public static bool RateAllowed(decimal psiPerS) => psiPerS >= RatePsiPerS.Least && psiPerS <= RatePsiPerS.Greatest;

    /// <summary>
    /// Strengths an unbonded pad of a hardness may be used for, psi, and how often; null where the table has no such pad.
    /// Qualified pads of hardness 70 go on to 12,000 psi. ASTM C1231/C1231M, Table 1 (from memory).
    /// </summary>
    /// <param name="hardness">Shore A durometer: 50, 60 or 70.</param>
    /// <param name="qualified">The pads were qualified by tests for high strength.</param>
    public static PadLimits? Pad(int hardness, bool qualified = false) => (hardness, qualified) switch
    {
        (50, _) => new(1500, 6000, 100),
        (60, _) => new(2500, 7000, 100),
        (70, false) => new(4000, 7000, 100),
        (70, true) => new(7000, 12000, 50),
        _ => null,
    };

    /// <summary>
    /// Inside diameter of a retaining ring, least and greatest share of the specimen's diameter, percent. ASTM C1231/C1231M (published).
    /// </summary>
    public static readonly (decimal Least, decimal Greatest) RingPct = (102, 107);

    /// <summary>Whether a retaining ring fits a specimen, both diameters in inches, ends included.</summary>
    public static bool RingFits(decimal ringIn, decimal specimenIn) =>
        ringIn * 100 >= specimenIn * RingPct.Least && ringIn * 100 <= specimenIn * RingPct.Greatest;

    /// <summary>Depression of an end above which it is sawn or ground before unbonded caps are used, inches. ASTM C1231/C1231M (published).</summary>
    public const decimal DepressionIn = 0.20m;

    /// <summary>
    /// Bonded caps: greatest mean and greatest single thickness, inches, and least age of a sulphur cap, hours, by design
    /// strength in psi. ASTM C617/C617M (from memory).
    /// </summary>
    public static (decimal MeanIn, decimal SingleIn, decimal Hours) BondedCap(decimal designPsi) =>
        (designPsi <= 7000 ? 0.25m : 0.125m, designPsi <= 7000 ? 0.3125m : 0.1875m, designPsi > 5000 ? 16 : 2);

    /// <summary>Most uses of sulphur mortar. ASTM C617/C617M (published).</summary>
    public const int SulphurUses = 5;
}

/// <summary>What an unbonded pad may be used for.</summary>
/// <param name="LeastPsi">Lowest strength, psi.</param>
/// <param name="GreatestPsi">Highest strength, psi.</param>
/// <param name="Uses">Most uses of one pad.</param>
public sealed record PadLimits(decimal LeastPsi, decimal GreatestPsi, int Uses)
{
    /// <summary>Whether a pad with so many uses behind it may break a specimen expected at a strength in psi.</summary>
    public bool Allows(decimal psi, int usesSoFar) => psi >= LeastPsi && psi <= GreatestPsi && usesSoFar < Uses;
}
