using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>Classes of freezing exposure that ask for entrained air.</summary>
public enum FreezingClass { F1, F2, F3 }

/// <summary>
/// Air asked of normal-weight concrete that freezes. ACI 318-19, Table 19.3.3.1: the figures were seen in a table derived from
/// the edition of 2000 (moderate and severe rows), the names of the classes are from memory. Owners differ: 5 1/2 +- 1 1/2 of a
/// Virginia box-culvert solicitation, 6 +- 1 1/2 of decks in Wisconsin, +-2 for aggregate to 3/4 in of federal guide
/// specifications (all published), so the tolerance is a parameter.
/// </summary>
public static class AirTarget
{
    /// <summary>Tolerance where nothing else is specified, points of percent (published).</summary>
    public const decimal TolerancePct = 1.5m;

    /// <summary>Specified strength above which air may be lower, psi. ACI 318-19, 19.3.3 (from memory).</summary>
    public const decimal StrongPsi = 5000;

    /// <summary>How much lower, points of percent. ACI 318-19, 19.3.3 (from memory).</summary>
    public const decimal StrongReductionPct = 1;

    /// <summary>Nominal maximum aggregate size in inches and millimetres, air of F1, air of F2 and F3, percent.</summary>
    private static readonly (decimal In, decimal Mm, decimal Moderate, decimal Severe)[] Table =
    [
        (0.375m, 9.5m, 6.0m, 7.5m), (0.5m, 12.5m, 5.5m, 7.0m), (0.75m, 19m, 5.0m, 6.0m), (1m, 25m, 4.5m, 6.0m),
        (1.5m, 37.5m, 4.5m, 5.5m), (2m, 50m, 4.0m, 5.0m), (3m, 75m, 3.5m, 4.5m),
    ];

    /// <summary>Sizes of the table in inches and millimetres.</summary>
    public static IReadOnlyList<(decimal In, decimal Mm)> Sizes { get; } = [.. Table.Select(r => (r.In, r.Mm))];

    /// <summary>Air of the table, percent; null for a size it does not have.</summary>
    public static decimal? Pct(decimal aggregateIn, FreezingClass exposure) =>
        Array.Find(Table, r => r.In == aggregateIn) is { In: > 0 } row ? exposure == FreezingClass.F1 ? row.Moderate : row.Severe : null;

    /// <summary>Least target allowed at a specified strength, percent: a point lower above 5,000 psi.</summary>
    public static decimal? LeastPct(decimal aggregateIn, FreezingClass exposure, decimal strengthPsi) =>
        Pct(aggregateIn, exposure) - (strengthPsi > StrongPsi ? StrongReductionPct : 0);

    /// <summary>Air accepted around a target, percent.</summary>
    public static Band Accepted(decimal targetPct, decimal tolerancePct = TolerancePct) => Band.Around(targetPct, tolerancePct);
}
