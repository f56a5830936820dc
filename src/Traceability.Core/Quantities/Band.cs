namespace Traceability.Core.Quantities;

/// <summary>What is allowed: from a least to a greatest figure of one unit, both ends inside; null where that end is free.</summary>
public readonly record struct Band(decimal? Least, decimal? Greatest)
{
    /// <summary>A figure with a tolerance under it and one over it; null for a free end.</summary>
    public static Band Around(decimal figure, decimal? under, decimal? over) => new(figure - under, figure + over);

    /// <summary>A figure with one tolerance either way.</summary>
    public static Band Around(decimal figure, decimal tolerance) => Around(figure, tolerance, tolerance);

    /// <summary>A figure with a tolerance either way in percent of it.</summary>
    public static Band Percent(decimal figure, decimal pct) => Around(figure, figure * pct / 100);

    public bool Holds(decimal value) => !(value < Least) && !(value > Greatest);
}
