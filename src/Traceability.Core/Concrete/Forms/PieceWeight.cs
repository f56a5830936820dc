namespace Traceability.Core.Concrete;

/// <summary>Weight of a piece from its volume.</summary>
public static class PieceWeight
{
    /// <summary>Reinforced normal-weight concrete as shops take it, lb/ft3 (common practice, no source).</summary>
    public const decimal ShopLbFt3 = 150;

    /// <summary>What steel adds, lb/ft3. AASHTO LRFD, Table 3.5.1-1 (from memory).</summary>
    public const decimal SteelLbFt3 = 5;

    public const decimal LbPerTon = 2000;

    /// <summary>Kilograms of a metric ton.</summary>
    public const decimal KgPerTonne = 1000;

    /// <summary>
    /// Reinforced unit weight, lb/ft3, by specified strength in psi up to 15,000: 145, from 5,000 psi on 140 and 1 for each ksi,
    /// and 5 for steel. AASHTO LRFD, Table 3.5.1-1 (from memory).
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">The strength is above 15,000 psi, where the table ends.</exception>
    public static decimal ReinforcedLbFt3(decimal strengthPsi)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(strengthPsi, 15_000);
        return (strengthPsi <= 5000 ? 145 : 140 + strengthPsi / 1000) + SteelLbFt3;
    }

    /// <summary>Weight, pounds.</summary>
    public static decimal Lb(decimal volumeFt3, decimal lbFt3 = ShopLbFt3) => volumeFt3 * lbFt3;

    /// <summary>Area of concrete in a box section, square feet: outside less opening, and four haunches of equal legs.</summary>
    public static decimal BoxAreaFt2(decimal spanFt, decimal riseFt, decimal wallIn, decimal topIn, decimal bottomIn, decimal haunchIn) =>
        (spanFt + wallIn / 6) * (riseFt + (topIn + bottomIn) / 12) - spanFt * riseFt + haunchIn * haunchIn / 72;
}
