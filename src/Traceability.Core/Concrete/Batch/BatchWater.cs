namespace Traceability.Core.Concrete;

/// <summary>
/// Water of a batch from moisture on oven-dry mass. ASTM C127, C128 and C566 define absorption and moisture on that basis
/// (from memory); the short cut on the saturated surface-dry mass gives another figure and is not mixed in.
/// </summary>
public static class BatchWater
{
    /// <summary>Oven-dry mass from a saturated surface-dry mass, same unit. Absorption in percent, above -100.</summary>
    public static decimal OvenDryFromSsd(decimal ssd, decimal absorptionPct) => ssd / Fraction(absorptionPct);

    /// <summary>Wet mass from an oven-dry mass, same unit. Total moisture in percent.</summary>
    public static decimal WetFromOvenDry(decimal ovenDry, decimal moisturePct) => ovenDry * Fraction(moisturePct);

    /// <summary>
    /// Free water of an aggregate as weighed wet, same unit: what it brings beyond its absorption; below 0 when it takes water up.
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">Moisture is -100 % or less.</exception>
    public static decimal FreeWater(decimal wet, decimal moisturePct, decimal absorptionPct) =>
        wet / Fraction(moisturePct) * (moisturePct - absorptionPct) / 100;

    /// <summary>Total moisture, percent of the oven-dry mass. ASTM C566 (from memory).</summary>
    /// <exception cref="ArgumentOutOfRangeException">The dry mass is not above 0.</exception>
    public static decimal MoisturePct(decimal wet, decimal dry)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(dry);
        return (wet - dry) / dry * 100;
    }

    /// <summary>Water to cementitious materials, by mass. All water that counts, in the unit of the cementitious mass.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The cementitious mass is not above 0.</exception>
    public static decimal WaterToCementitious(decimal water, decimal cementitious)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(cementitious);
        return water / cementitious;
    }

    /// <summary>Water to be metered, same unit: the design water less the aggregates' free water and the water of admixtures that counts.</summary>
    public static decimal Target(decimal designWater, IEnumerable<decimal> freeWaters, decimal admixtureWater = 0) => designWater - freeWaters.Sum() - admixtureWater;

    /// <summary>Change of w/cm from which the water in admixtures counts. ASTM C94/C94M and ACI 301 (from memory).</summary>
    public const decimal AdmixtureWaterFrom = 0.01m;

    /// <summary>Whether the water in admixtures counts: whether it changes w/cm by 0.01 or more. Both in one unit.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The cementitious mass is not above 0.</exception>
    public static bool AdmixtureWaterCounts(decimal admixtureWater, decimal cementitious) => WaterToCementitious(admixtureWater, cementitious) >= AdmixtureWaterFrom;

    /// <summary>Water that may still be added in the field without passing a largest w/cm, same unit; never below 0.</summary>
    /// <param name="water">All water in the load so far.</param>
    public static decimal MostFieldWater(decimal largestRatio, decimal water, decimal cementitious) => Math.Max(0, largestRatio * cementitious - water);

    private static decimal Fraction(decimal pct)
    {
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(pct, -100);
        return 1 + pct / 100;
    }
}
