namespace Traceability.Core.Concrete;

/// <summary>Exposure of reinforcement to chlorides, ACI 318-19 19.3.1.</summary>
public enum CorrosionClass { C0, C1, C2 }

/// <summary>What chloride is a percentage of.</summary>
public enum ChlorideBasis
{
    /// <summary>Cement alone. ACI 318-14, Table 19.3.2.1 (published).</summary>
    Cement,
    /// <summary>Cementitious materials, supplementary ones only up to the mass of cement. ACI 318-19, Table 19.3.2.1 (limits published, the cap from memory).</summary>
    Cementitious,
}

/// <summary>
/// Chloride of fresh concrete by its ingredients. All of it counts, so this is a conservative screen: about half becomes
/// water-soluble, which is what ASTM C1218 finds at 28 to 42 days. Highway products stand in class C2, where calcium chloride
/// is in practice excluded.
/// </summary>
public static class Chloride
{
    /// <summary>Share of chloride in calcium chloride: two atoms of 35.453 in a mass of 110.984.</summary>
    public const decimal OfCalciumChloride = 2 * 35.453m / 110.984m;

    /// <summary>Calcium chloride in flakes, percent of the product. ASTM D98 (from memory).</summary>
    public const decimal FlakePct = 77;

    /// <summary>Calcium chloride in pellets, percent of the product; the standard has a grade of 90 too. ASTM D98 (from memory).</summary>
    public const decimal PelletPct = 94;

    /// <summary>Calcium chloride commonly in solution, percent; 29 to 38 occur: ask for the product's own (from memory).</summary>
    public const decimal LiquidPct = 32;

    /// <summary>Chloride of a product of calcium chloride, in the unit of its mass.</summary>
    /// <param name="calciumChloridePct">Calcium chloride in the product, percent by mass.</param>
    public static decimal OfProduct(decimal product, decimal calciumChloridePct) => product * calciumChloridePct / 100 * OfCalciumChloride;

    /// <summary>The mass that chloride is a percentage of, in the unit of the masses.</summary>
    public static decimal Basis(ChlorideBasis basis, decimal cement, decimal supplementary) =>
        basis == ChlorideBasis.Cement ? cement : cement + Math.Min(supplementary, cement);

    /// <summary>Chloride in percent of its basis: what products bring and what water, aggregates and admixtures bring besides.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The basis is not above 0.</exception>
    public static decimal Pct(decimal chloride, decimal basis, decimal background = 0)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(basis);
        return (chloride + background) / basis * 100;
    }

    /// <summary>Largest chloride, percent of the basis. ACI 318-19, Table 19.3.2.1 (published); water-soluble, ASTM C1218.</summary>
    public static decimal LargestPct(CorrosionClass exposure, bool prestressed) => (prestressed, exposure) switch
    {
        (true, _) => 0.06m,
        (_, CorrosionClass.C0) => 1.00m,
        (_, CorrosionClass.C1) => 0.30m,
        _ => 0.15m,
    };

    /// <summary>Largest dose of a product of calcium chloride, percent of the basis, when nothing else brings chloride.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The product holds no calcium chloride.</exception>
    public static decimal LargestDosePct(decimal largestPct, decimal calciumChloridePct)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(calciumChloridePct);
        return largestPct * 100 / (calciumChloridePct * OfCalciumChloride);
    }
}
