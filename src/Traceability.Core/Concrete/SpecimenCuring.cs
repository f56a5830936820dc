namespace Traceability.Core.Concrete;

/// <summary>Curing of strength specimens until they are broken. ASTM C31/C31M.</summary>
public static class SpecimenCuring
{
    /// <summary>Longest initial cure, hours from moulding. ASTM C31/C31M, 10.1.2 (published).</summary>
    public const decimal LongestInitialHours = 48;

    /// <summary>Longest time from the removal of the mould to the final cure, minutes. ASTM C31/C31M, 10.1.3 (published).</summary>
    public const decimal IntoFinalMinutes = 30;

    /// <summary>Final cure, degrees Fahrenheit. ASTM C31/C31M and C511 (from memory).</summary>
    public static readonly (decimal LowF, decimal HighF) FinalF = (70, 77);

    /// <summary>Design strength from which the narrower initial window applies, psi. ASTM C31/C31M, 10.1.2 (published).</summary>
    public const decimal HighStrengthPsi = 6000;

    /// <summary>Window of the initial cure, degrees Fahrenheit, ends included, by design strength in psi. ASTM C31/C31M, 10.1.2 (published).</summary>
    public static (decimal LowF, decimal HighF) InitialF(decimal designPsi) => designPsi < HighStrengthPsi ? (60, 80) : (68, 78);

    /// <summary>What was wrong with an initial cure, in words; empty when nothing was. A flag on the specimens, not on the concrete.</summary>
    /// <param name="lowestF">Lowest temperature around the specimens, degrees Fahrenheit.</param>
    /// <param name="highestF">Highest temperature around the specimens, degrees Fahrenheit.</param>
    /// <param name="hours">From moulding to the removal of the moulds, hours, 0 or more.</param>
    public static IReadOnlyList<string> InitialDoubts(decimal designPsi, decimal lowestF, decimal highestF, decimal hours)
    {
        var (low, high) = InitialF(designPsi);
        var doubts = new List<string>();
        if (lowestF < low) doubts.Add($"the initial cure fell to {Text(lowestF)} F, below {Text(low)} F");
        if (highestF > high) doubts.Add($"the initial cure rose to {Text(highestF)} F, above {Text(high)} F");
        if (hours > LongestInitialHours) doubts.Add($"the initial cure lasted {Text(hours)} h, longer than {Text(LongestInitialHours)} h");
        return doubts;
    }

    private static string Text(decimal value) => value.ToString("0.##", System.Globalization.CultureInfo.InvariantCulture);
}
