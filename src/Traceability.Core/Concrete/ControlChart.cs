namespace Traceability.Core.Concrete;

/// <summary>Constants of ranges of n values from a normal distribution: mean and standard deviation of the range, over the standard deviation of one value.</summary>
public sealed record RangeConstants(decimal D2, decimal D3)
{
    /// <summary>Lower limit of a range chart over the mean range; never below 0.</summary>
    public decimal LowerRange => Math.Max(0, 1 - 3 * D3 / D2);

    /// <summary>Upper limit of a range chart over the mean range.</summary>
    public decimal UpperRange => 1 + 3 * D3 / D2;
}

/// <summary>Individuals and moving-range chart of a series, with limits three standard deviations from the mean.</summary>
/// <param name="Mean">Centre of the individuals, in their unit.</param>
/// <param name="MeanRange">Centre of the moving ranges.</param>
/// <param name="UpperRange">Upper limit of the moving ranges.</param>
/// <param name="Signals">Index of each value that calls for a look, with the reason.</param>
public sealed record ControlChart(decimal Mean, decimal Lower, decimal Upper, decimal MeanRange, decimal UpperRange, IReadOnlyList<(int Index, string Why)> Signals)
{
    /// <summary>Fewest values for a chart: fewer say nothing of a spread. Common practice, no source.</summary>
    public const int Fewest = 8;

    /// <summary>Values in a row on one side of the mean that call for a look. Western Electric rules (from memory).</summary>
    public const int RunLength = 8;

    /// <summary>By number of values, 2 to 10. ASTM manual on presentation of data and control chart analysis, MNL 7 (from memory).</summary>
    private static readonly RangeConstants[] Table =
    [
        new(1.128m, 0.853m), new(1.693m, 0.888m), new(2.059m, 0.880m), new(2.326m, 0.864m), new(2.534m, 0.848m),
        new(2.704m, 0.833m), new(2.847m, 0.820m), new(2.970m, 0.808m), new(3.078m, 0.797m),
    ];

    /// <summary>The constants for a number of values; null outside 2 to 10.</summary>
    public static RangeConstants? Constants(int values) => values is >= 2 and <= 10 ? Table[values - 2] : null;

    /// <summary>The chart of a series in order of time; null below <see cref="Fewest"/> values.</summary>
    public static ControlChart? Of(IReadOnlyList<decimal> values)
    {
        if (values.Count < Fewest) return null;
        var pair = Constants(2)!;
        var ranges = Statistics.MovingRanges(values);
        var (mean, meanRange) = (values.Average(), ranges.Average());
        var (lower, upper, upperRange) = (mean - 3 * meanRange / pair.D2, mean + 3 * meanRange / pair.D2, meanRange * pair.UpperRange);
        var signals = new List<(int, string)>();
        var (side, run) = (0, 0);
        for (var i = 0; i < values.Count; i++)
        {
            if (values[i] < lower) signals.Add((i, "below the lower limit"));
            if (values[i] > upper) signals.Add((i, "above the upper limit"));
            if (i > 0 && ranges[i - 1] > upperRange) signals.Add((i, "a jump from the test before it"));
            var here = values[i].CompareTo(mean);
            (side, run) = (here, here != 0 && here == side ? run + 1 : here == 0 ? 0 : 1);
            if (run == RunLength) signals.Add((i, $"{RunLength} in a row {(here < 0 ? "below" : "above")} the mean"));
        }

        return new ControlChart(mean, lower, upper, meanRange, upperRange, signals);
    }
}
