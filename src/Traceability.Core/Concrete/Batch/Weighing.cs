namespace Traceability.Core.Concrete;

/// <summary>Accuracy of batching, by the rules of ASTM C94/C94M; the figures themselves come from the profile.</summary>
public static class Weighing
{
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
}
