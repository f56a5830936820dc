using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>Mean, standard deviation and a line by least squares, in decimal arithmetic: no cancellation, the same digits on every machine.</summary>
public static class Statistics
{
    /// <summary>Sample standard deviation (divisor n - 1), in the unit of the values; null below two values.</summary>
    public static decimal? StandardDeviation(IReadOnlyCollection<decimal> values)
    {
        if (values.Count < 2) return null;
        var mean = values.Average();
        return DecimalMath.Sqrt(values.Sum(v => (v - mean) * (v - mean)) / (values.Count - 1));
    }

    /// <summary>Coefficient of variation, percent; null below two values or for a mean that is not above 0.</summary>
    public static decimal? VariationPct(IReadOnlyCollection<decimal> values) =>
        StandardDeviation(values) is { } s && values.Average() is > 0 and var mean ? s / mean * 100 : null;

    /// <summary>Differences between neighbours of a series, without sign: one fewer than values.</summary>
    public static IReadOnlyList<decimal> MovingRanges(IReadOnlyList<decimal> values)
    {
        var ranges = new List<decimal>(Math.Max(0, values.Count - 1));
        for (var i = 1; i < values.Count; i++) ranges.Add(Math.Abs(values[i] - values[i - 1]));
        return ranges;
    }

    /// <summary>The line by least squares; null below two points or when all lie at one x.</summary>
    public static Line? Fit(IReadOnlyCollection<(decimal X, decimal Y)> points)
    {
        if (points.Count < 2) return null;
        var (mx, my) = (points.Average(p => p.X), points.Average(p => p.Y));
        var xx = points.Sum(p => (p.X - mx) * (p.X - mx));
        if (xx == 0) return null;
        var slope = points.Sum(p => (p.X - mx) * (p.Y - my)) / xx;
        var intercept = my - slope * mx;
        var residual = points.Sum(p => (p.Y - intercept - slope * p.X) * (p.Y - intercept - slope * p.X));
        return new Line(intercept, slope, points.Count > 2 ? DecimalMath.Sqrt(residual / (points.Count - 2)) : null, points.Count);
    }
}

/// <summary>A line by least squares.</summary>
/// <param name="ResidualDeviation">Residual standard deviation, in the unit of y; null for two points.</param>
public sealed record Line(decimal Intercept, decimal Slope, decimal? ResidualDeviation, int Points)
{
    public decimal At(decimal x) => Intercept + Slope * x;
}
