namespace Traceability.Core.Quantities;

/// <summary>The unit that a field's name ends with: every quantity of a fact carries its unit in its name.</summary>
public static class UnitNames
{
    // Longest endings first: "densityLbFt3" is not in cubic feet.
    private static readonly (string Ending, string Unit)[] Endings =
        [.. new (string, string)[]
        {
            ("In", "inches"), ("In2", "square inches"), ("Ft", "feet"), ("Ft2", "square feet"), ("Ft3", "cubic feet"), ("Yd3", "cubic yards"),
            ("Lb", "pounds"), ("LbFt3", "pounds per cubic foot"), ("LbYd3", "pounds per cubic yard"), ("Lbf", "pounds-force"), ("Kip", "kips"),
            ("Psi", "pounds per square inch"), ("PsiPerS", "pounds per square inch per second"), ("Psf", "pounds per square foot"),
            ("Gal", "US gallons"), ("Oz", "US fluid ounces"), ("OzCwt", "US fluid ounces per 100 pounds of cementitious material"),
            ("F", "degrees Fahrenheit"), ("FPerHour", "degrees Fahrenheit per hour"), ("FHours", "degree Fahrenheit hours"), ("Pct", "percent"), ("Deg", "degrees of angle"),
            ("Min", "minutes"), ("S", "seconds"), ("Hours", "hours"), ("Days", "days"), ("Mph", "miles per hour"), ("G", "grams"), ("Ppm", "parts per million"), ("Wcm", "ratio by mass"),
        }.OrderByDescending(e => e.Item1.Length)];

    /// <summary>The unit in words, or null when the name ends with none.</summary>
    public static string? Of(string fieldName) =>
        Endings.FirstOrDefault(e => fieldName.EndsWith(e.Ending, StringComparison.Ordinal) && fieldName.Length > e.Ending.Length).Unit;
}
