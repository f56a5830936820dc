namespace Traceability.Core.Concrete;

/// <summary>What a class of exposure asks of concrete.</summary>
/// <param name="MaxWcm">Largest w/cm by mass; null where none is set.</param>
/// <param name="StrengthPsi">Least specified strength, psi.</param>
/// <param name="Air">Whether entrained air is asked.</param>
public sealed record ExposureClass(string Name, decimal? MaxWcm, decimal StrengthPsi, bool Air = false);

/// <summary>Largest parts of supplementary materials, percent of all cementitious.</summary>
public sealed record SupplementaryCaps(decimal FlyAshPct, decimal SlagPct, decimal SilicaFumePct, decimal TotalPct)
{
    /// <summary>Whether a blend is inside, all masses in one unit.</summary>
    /// <exception cref="ArgumentOutOfRangeException">There is no cementitious material.</exception>
    public bool Hold(decimal cement, decimal flyAsh, decimal slag, decimal silicaFume)
    {
        var all = cement + flyAsh + slag + silicaFume;
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(all);
        return flyAsh * 100 <= all * FlyAshPct && slag * 100 <= all * SlagPct && silicaFume * 100 <= all * SilicaFumePct && (flyAsh + slag + silicaFume) * 100 <= all * TotalPct;
    }
}

/// <summary>
/// Exposure classes. ACI 318-19, Table 19.3.2.1: from memory, but C2 (0.40, 5,000 psi) and some rows of S and W were seen in a
/// worksheet of a ready-mixed concrete association. S3 is its first option; the other asks 0.40 and 5,000 psi.
/// </summary>
public static class Exposure
{
    private static readonly Dictionary<string, ExposureClass> Table = new ExposureClass[]
    {
        new("F0", null, 2500), new("F1", 0.55m, 3500, Air: true), new("F2", 0.45m, 4500, Air: true), new("F3", 0.40m, 5000, Air: true),
        new("S0", null, 2500), new("S1", 0.50m, 4000), new("S2", 0.45m, 4500), new("S3", 0.45m, 4500),
        new("W0", null, 2500), new("W1", null, 2500), new("W2", 0.50m, 4000),
        new("C0", null, 2500), new("C1", null, 2500), new("C2", 0.40m, 5000),
    }.ToDictionary(c => c.Name, StringComparer.Ordinal);

    /// <summary>Largest parts of supplementary materials in class F3. ACI 318-19, 26.4.2.2 (from memory).</summary>
    public static SupplementaryCaps F3Caps { get; } = new(25, 50, 10, 50);

    /// <summary>The class of a name, or null when the table has none.</summary>
    public static ExposureClass? Of(string name) => Table.GetValueOrDefault(name);

    /// <summary>What several classes ask together: the lowest w/cm, the highest strength, air if one asks it.</summary>
    /// <exception cref="ArgumentException">A name is no class, or there is none.</exception>
    public static ExposureClass Together(params IReadOnlyCollection<string> names)
    {
        var classes = names.Select(n => Of(n) ?? throw new ArgumentException($"'{n}' is no class of exposure: name one such as F2 or C1", nameof(names))).ToList();
        return classes.Count == 0
            ? throw new ArgumentException("name at least one class of exposure, such as F2 or C1", nameof(names))
            : new(string.Join(" ", names), classes.Min(c => c.MaxWcm), classes.Max(c => c.StrengthPsi), classes.Exists(c => c.Air));
    }
}
