using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>Editions of ASTM C94/C94M that judge differently.</summary>
public enum C94Edition
{
    /// <summary>Water against the total mixing water; 1 1/2 h to discharge unless the purchaser waives it.</summary>
    Through20,
    /// <summary>C94-21: no time of its own; water as before.</summary>
    C21,
    /// <summary>C94-21a and later: water against the target batch water.</summary>
    From21a,
}

/// <summary>Accuracy of batching, by the rules of ASTM C94/C94M; what contracts vary are parameters.</summary>
public static class Weighing
{
    /// <summary>Water added, percent of the total mixing water, through C94-21 (published).</summary>
    public const decimal AddedWaterPctOfTotal = 1;

    /// <summary>Total water, percent of the total mixing water, through C94-21 (published).</summary>
    public const decimal TotalWaterPct = 3;

    /// <summary>Batch water, percent of its target, from C94-21a on (published).</summary>
    public const decimal BatchWaterPct = 1.5m;

    /// <summary>Admixtures, percent of the required amount (from memory).</summary>
    public const decimal AdmixturePct = 3;

    /// <summary>Deviation of the batched from the required mass, percent of the required mass.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The required mass is not above 0.</exception>
    public static decimal DeviationPct(decimal required, decimal batched)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(required);
        return (batched - required) / required * 100;
    }

    /// <summary>
    /// Least and greatest mass allowed for cementitious material, same unit: either way by a percentage from a share of the
    /// scale's capacity on, below that share only over, by another percentage.
    /// </summary>
    public static (decimal Least, decimal Greatest) Cementitious(decimal required, decimal scaleCapacity, decimal tolerancePct, decimal smallSharePct, decimal smallOverPct) =>
        required * 100 >= scaleCapacity * smallSharePct ? Either(required, tolerancePct) : (required, required * (1 + smallOverPct / 100));

    /// <summary>Least and greatest mass allowed either way by a percentage of the required mass, same unit.</summary>
    public static (decimal Least, decimal Greatest) Either(decimal required, decimal tolerancePct) =>
        (required * (1 - tolerancePct / 100), required * (1 + tolerancePct / 100));

    /// <summary>
    /// Tolerance either way of aggregates weighed one onto the other, same unit: a percentage of the cumulative required mass
    /// from 30 % of the scale's capacity on; below, the smaller of 0.3 % of the capacity and 3 % of the required mass.
    /// ASTM C94/C94M (from memory).
    /// </summary>
    public static decimal CumulativeAggregate(decimal requiredSoFar, decimal scaleCapacity) =>
        requiredSoFar * 100 >= scaleCapacity * 30 ? requiredSoFar / 100 : Math.Min(scaleCapacity * 0.3m / 100, requiredSoFar * 3 / 100);

    /// <summary>
    /// Water added at the plant that is allowed, same unit. Through C94-21 the tolerance is a share of all mixing water, free
    /// water of the aggregates with it, so that it is wider than a share of what the meter adds; from C94-21a on a share of
    /// the target batch water. The standard gives none for water added through the truck's system.
    /// </summary>
    /// <param name="target">Water to be added.</param>
    /// <param name="totalMixing">All mixing water of the batch as designed.</param>
    public static Band WaterAdded(C94Edition edition, decimal target, decimal totalMixing) =>
        edition == C94Edition.From21a ? Band.Percent(target, BatchWaterPct) : Band.Around(target, totalMixing * AddedWaterPctOfTotal / 100);

    /// <summary>All mixing water that is allowed, same unit; free from C94-21a on, which judges the batch water alone.</summary>
    public static Band WaterTotal(C94Edition edition, decimal totalMixing) =>
        edition == C94Edition.From21a ? new(null, null) : Band.Percent(totalMixing, TotalWaterPct);

    /// <summary>Liquid admixture allowed, fluid ounces: the larger of a percentage and the dose for 100 lb of cement either way. ASTM C94/C94M (from memory).</summary>
    /// <param name="dosePer100LbOz">Dose for 100 lb of cement, fluid ounces.</param>
    public static Band LiquidAdmixtureOz(decimal requiredOz, decimal dosePer100LbOz) =>
        Band.Around(requiredOz, Math.Max(requiredOz * AdmixturePct / 100, dosePer100LbOz));

    /// <summary>
    /// Largest error of a scale at a load, same unit: the larger of 0.15 % of its capacity and 0.4 % of the net load, in each
    /// quarter of its range. ASTM C94/C94M, since about 2012 (from memory).
    /// </summary>
    public static decimal ScaleError(decimal capacity, decimal netLoad) => Math.Max(capacity * 0.15m / 100, netLoad * 0.4m / 100);

    /// <summary>Whether a check of a scale, load by load, is inside its accuracy and reaches every quarter of its range.</summary>
    public static bool ScaleAccurate(decimal capacity, IReadOnlyCollection<(decimal Load, decimal Read)> checks) =>
        checks.All(c => Math.Abs(c.Read - c.Load) <= ScaleError(capacity, c.Load))
        && Enumerable.Range(1, 4).All(q => checks.Any(c => c.Load > capacity * (q - 1) / 4 && c.Load <= capacity * q / 4));
}

/// <summary>Accuracy of volumetric batching and continuous mixing. ASTM C685/C685M (from memory).</summary>
public static class Volumetric
{
    /// <summary>Cement, percent over; never under.</summary>
    public const decimal CementOverPct = 4;

    /// <summary>Fine and coarse aggregate, percent either way.</summary>
    public const decimal AggregatePct = 2;

    /// <summary>Admixtures, percent either way.</summary>
    public const decimal AdmixturePct = 3;

    /// <summary>Water, percent either way.</summary>
    public const decimal WaterPct = 1;

    /// <summary>Cement allowed, same unit.</summary>
    public static Band Cement(decimal required) => Band.Around(required, 0, required * CementOverPct / 100);
}
