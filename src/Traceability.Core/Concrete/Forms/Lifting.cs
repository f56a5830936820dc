using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>
/// Loads of slings and inserts. No dynamic factor is in them. A check of records, not a lifting plan: the rigging, the
/// strength at the lift and who stands where are decided under the local codes and by the licensed engineer.
/// </summary>
public static class Lifting
{
    /// <summary>Ultimate load of an insert in tilt-up members over the intended load. 29 CFR 1926.704(b) (published).</summary>
    public const decimal TiltUpInsertFactor = 2;

    /// <summary>Ultimate load of an insert in other precast members over the intended load. 29 CFR 1926.704(c) (published).</summary>
    public const decimal InsertFactor = 4;

    /// <summary>Ultimate load of lifting hardware over the intended load. 29 CFR 1926.704(d) (published).</summary>
    public const decimal HardwareFactor = 5;

    /// <summary>Ultimate load an insert needs, pounds-force, for the load of its leg.</summary>
    public static decimal InsertLbf(decimal legLoadLb, bool tiltUp = false) => legLoadLb * (tiltUp ? TiltUpInsertFactor : InsertFactor);

    /// <summary>Ultimate load that hardware needs, pounds-force, for the load of its leg.</summary>
    public static decimal HardwareLbf(decimal legLoadLb) => legLoadLb * HardwareFactor;

    /// <summary>
    /// Load of one leg, pounds: weight shared equally by the legs that carry, by the sine of the sling's angle from the
    /// horizontal. Equal sharing is common practice; four legs without equalising gear carry on two.
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">No leg carries, or the angle is not above 0 and at most 90 degrees.</exception>
    public static decimal LegLoadLb(decimal weightLb, int legsThatCarry, decimal angleDeg)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(legsThatCarry);
        return weightLb / (legsThatCarry * Sine(angleDeg));
    }

    /// <summary>
    /// Sine of an angle above 0 and at most 90 degrees, to 20 digits. By its series in decimal arithmetic, so that a browser
    /// and a server print the same digits.
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">The angle is not above 0 and at most 90 degrees.</exception>
    public static decimal Sine(decimal degrees)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(degrees);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(degrees, 90m);
        var x = degrees * Exact.Pi / 180;
        var term = x;
        var sum = x;
        for (var n = 1; n <= 16; n++)
        {
            term *= -x * x / (2 * n * (2 * n + 1));
            sum += term;
        }

        return decimal.Round(sum, 20);
    }
}
