namespace Traceability.Core.Concrete;

/// <summary>What of a manufactured product has to be domestic beside its iron and steel.</summary>
public enum ManufacturedProductRule { GeneralWaiver, FinalAssembly, FinalAssemblyAndCost }

/// <summary>
/// Domestic content of highway contracts with federal money. The date that decides is the project's obligation, not the
/// casting and not the delivery. The tally over a whole contract is the contractor's; a plant knows its own part only.
/// </summary>
public static class BuyAmerica
{
    /// <summary>Minimal foreign steel as delivered: so much of the contract, percent. 23 CFR 635.410(b)(4) (from memory).</summary>
    public const decimal MinimalPct = 0.1m;

    /// <summary>Or so many dollars, whichever is greater. 23 CFR 635.410(b)(4) (from memory).</summary>
    public const decimal MinimalUsd = 2_500;

    /// <summary>Final assembly in the United States is asked of projects obligated on or after this day. 90 FR 2932 (published).</summary>
    public static readonly DateOnly FinalAssemblyFrom = new(2025, 10, 1);

    /// <summary>More than 55 % of the cost of components is asked of projects obligated on or after this day. 90 FR 2932 (published).</summary>
    public static readonly DateOnly CostFrom = new(2026, 10, 1);

    /// <summary>Share of the cost of components that has to be domestic, percent; it must be more. 90 FR 2932 (published).</summary>
    public const decimal CostMoreThanPct = 55;

    /// <summary>Share of iron and steel in the cost of components above which a product is predominantly iron or steel, percent. 2 CFR 184.3 (published).</summary>
    public const decimal PredominantlyMoreThanPct = 50;

    /// <summary>Value of foreign steel that a contract may hold, dollars as delivered.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The contract's value is below 0.</exception>
    public static decimal MinimalForeignUsd(decimal contractUsd)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(contractUsd);
        return Math.Max(MinimalUsd, contractUsd * MinimalPct / 100);
    }

    /// <summary>What is asked of a manufactured product of a project by its obligation date; its steel is under the steel rule throughout.</summary>
    public static ManufacturedProductRule RuleOn(DateOnly obligatedOn) =>
        obligatedOn < FinalAssemblyFrom ? ManufacturedProductRule.GeneralWaiver : obligatedOn < CostFrom ? ManufacturedProductRule.FinalAssembly : ManufacturedProductRule.FinalAssemblyAndCost;

    /// <summary>Whether the domestic part of a product's components is enough, both in dollars.</summary>
    public static bool CostShareMet(decimal domesticUsd, decimal allUsd) => domesticUsd * 100 > allUsd * CostMoreThanPct;

    /// <summary>Whether a product is predominantly iron or steel by the cost of its components, both in dollars.</summary>
    public static bool PredominantlySteel(decimal steelUsd, decimal allUsd) => steelUsd * 100 > allUsd * PredominantlyMoreThanPct;
}
