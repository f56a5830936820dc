namespace Traceability.Core.Concrete;

/// <summary>Standard of control of concrete production by ACI 214R-11.</summary>
public enum ControlClass { Excellent, VeryGood, Good, Fair, Poor }

/// <summary>
/// Overall and within-test variation and their classes. ACI 214R-11, Tables 4.3 and 4.4 (from memory). A figure on the border
/// of two classes takes the better one, except that the best class ends below its figure, as the tables print it.
/// </summary>
public static class ControlClasses
{
    private static readonly decimal[] FieldPsi = [400, 500, 600, 700], LaboratoryPsi = [200, 250, 300, 350], WithinField = [3, 4, 5, 6], WithinLaboratory = [2, 3, 4, 5],
        FieldPct = [7, 9, 11, 14], LaboratoryPct = [3.5m, 4.5m, 5.5m, 7];

    /// <summary>Design strength up to which overall variation is classed by psi, above it by percent.</summary>
    public const decimal UpToPsi = 5000;

    /// <summary>Within-test standard deviation, psi: mean range of companions over the constant for their number; null for another number than 2 to 5 or without ranges.</summary>
    public static decimal? WithinTestPsi(IReadOnlyCollection<decimal> rangesPsi, int cylinders) =>
        rangesPsi.Count > 0 && cylinders is >= 2 and <= 5 ? rangesPsi.Average() / ControlChart.Constants(cylinders)!.D2 : null;

    /// <summary>Class of the overall variation of a record of at least two tests; null where it has none.</summary>
    public static ControlClass? Overall(IReadOnlyCollection<decimal> testsPsi, decimal designPsi, bool field = true) => designPsi <= UpToPsi
        ? Class(Statistics.StandardDeviation(testsPsi), field ? FieldPsi : LaboratoryPsi)
        : Class(Statistics.VariationPct(testsPsi), field ? FieldPct : LaboratoryPct);

    /// <summary>Class of the within-test variation, percent of the mean.</summary>
    public static ControlClass WithinTest(decimal variationPct, bool field = true) => Class(variationPct, field ? WithinField : WithinLaboratory)!.Value;

    private static ControlClass? Class(decimal? value, decimal[] borders) => value switch
    {
        null => null,
        { } v when v < borders[0] => ControlClass.Excellent,
        { } v when v <= borders[1] => ControlClass.VeryGood,
        { } v when v <= borders[2] => ControlClass.Good,
        { } v when v <= borders[3] => ControlClass.Fair,
        _ => ControlClass.Poor,
    };
}
