using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>One ingredient in absolute volume.</summary>
/// <param name="MassLb">Mass in the batch, pounds; aggregates saturated surface-dry.</param>
/// <param name="SpecificGravity">Relative density on the same basis; 1 for water.</param>
public readonly record struct AbsoluteIngredient(decimal MassLb, decimal SpecificGravity);

/// <summary>Density, yield and gravimetric air. ASTM C138/C138M: symbols and balance were seen, the table of measures is from memory.</summary>
public static class Yield
{
    public const decimal Ft3PerYd3 = 27;

    /// <summary>Density of water for absolute volumes, lb/ft3 (from memory).</summary>
    public const decimal WaterLbFt3 = 62.4m;

    /// <summary>Density, lb/ft3: full less empty measure over its volume.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The volume is not above 0.</exception>
    public static decimal DensityLbFt3(decimal fullLb, decimal emptyLb, decimal volumeFt3)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(volumeFt3);
        return (fullLb - emptyLb) / volumeFt3;
    }

    /// <summary>Volume of the batch as mixed, cubic feet: all its mass over its density.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The density is not above 0.</exception>
    public static decimal Ft3(decimal batchLb, decimal densityLbFt3)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(densityLbFt3);
        return batchLb / densityLbFt3;
    }

    /// <summary>Volume as mixed over the volume as designed, one unit; above 1 the batch gives more than designed and is leaner.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The design volume is not above 0.</exception>
    public static decimal Relative(decimal yield, decimal design)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(design);
        return yield / design;
    }

    /// <summary>Cementitious content as mixed, lb/yd3.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The yield is not above 0.</exception>
    public static decimal CementContentLbYd3(decimal cementitiousLb, decimal yieldFt3)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(yieldFt3);
        return cementitiousLb * Ft3PerYd3 / yieldFt3;
    }

    /// <summary>Absolute volume of ingredients without air, cubic feet.</summary>
    /// <exception cref="DivideByZeroException">A specific gravity is 0.</exception>
    public static decimal AbsoluteFt3(IEnumerable<AbsoluteIngredient> ingredients) => ingredients.Sum(i => i.MassLb / (i.SpecificGravity * WaterLbFt3));

    /// <summary>Theoretical density without air, lb/ft3: all mass over all absolute volume.</summary>
    /// <exception cref="DivideByZeroException">There is no volume.</exception>
    public static decimal TheoreticalLbFt3(IReadOnlyCollection<AbsoluteIngredient> ingredients) => ingredients.Sum(i => i.MassLb) / AbsoluteFt3(ingredients);

    /// <summary>Gravimetric air content, percent: what density lacks of the theoretical one.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The theoretical density is not above 0.</exception>
    public static decimal AirPct(decimal theoreticalLbFt3, decimal densityLbFt3)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(theoreticalLbFt3);
        return (theoreticalLbFt3 - densityLbFt3) / theoreticalLbFt3 * 100;
    }

    /// <summary>Least volume of the measure, cubic feet, by nominal maximum aggregate size in inches; null above 3 in. Table 1 (from memory).</summary>
    public static decimal? LeastMeasureFt3(decimal aggregateIn) => aggregateIn switch { <= 1 => 0.2m, <= 1.5m => 0.4m, <= 2 => 0.5m, <= 3 => 1.0m, _ => null };

    /// <summary>Accuracy of the balance at a load, pounds: the greater of 0.1 lb and 0.3 % of the load. ASTM C138-17, 4.1 (published).</summary>
    public static decimal BalanceLb(decimal loadLb) => Math.Max(0.1m, loadLb * 0.3m / 100);

    /// <summary>The same density, kg/m3.</summary>
    public static decimal DensityKgM3(decimal lbFt3) => lbFt3 * Si.KgM3PerLbFt3;
}
