using Traceability.Core.Profiles;

namespace Traceability.Core.Concrete;

/// <summary>What a specification asks of bars of Grade 60 by test.</summary>
/// <param name="YieldPsi">Least yield strength, psi.</param>
/// <param name="LargestYieldPsi">Largest yield strength, psi; null where none is set.</param>
/// <param name="TensilePsi">Least tensile strength, psi.</param>
/// <param name="Ratio">Least ratio of tensile to actual yield strength; null where none is asked.</param>
/// <param name="Elongations">Largest bar number of a row and its least elongation in 8 in, percent; smallest sizes first.</param>
public sealed record SteelTest(decimal YieldPsi, decimal? LargestYieldPsi, decimal TensilePsi, decimal? Ratio, IReadOnlyList<(int UpTo, decimal Pct)> Elongations, Citation Source)
{
    /// <summary>Least elongation of a bar number, percent; null for a size the specification does not have.</summary>
    public decimal? ElongationPct(int barNumber) => Bars.Nominal($"{barNumber}") is null ? null : Elongations.First(e => barNumber <= e.UpTo).Pct;

    /// <summary>Whether reported strengths pass, psi.</summary>
    public bool Strengths(decimal yieldPsi, decimal tensilePsi) =>
        yieldPsi >= YieldPsi && !(yieldPsi > LargestYieldPsi) && tensilePsi >= TensilePsi && !(tensilePsi < Ratio * yieldPsi);
}

/// <summary>Mill values of bars of Grade 60 by specification and edition. All from memory; editions of A615 differ and sources disagree on when.</summary>
public static class Mill
{
    /// <summary>Least weight of a bar, percent of the nominal. ASTM A615/A615M, 12, and A706/A706M (from memory).</summary>
    public const decimal LeastWeightPct = 94;

    /// <summary>Largest carbon equivalent of A706, percent. ASTM A706/A706M (from memory).</summary>
    public const decimal LargestCarbonEquivalentPct = 0.55m;

    /// <summary>Largest carbon of A706 by heat analysis, percent. ASTM A706/A706M (from memory).</summary>
    public const decimal LargestCarbonPct = 0.30m;

    /// <summary>Largest manganese of A706 by heat analysis, percent. ASTM A706/A706M (from memory).</summary>
    public const decimal LargestManganesePct = 1.50m;

    /// <summary>First edition of A615 with 80 ksi and a ratio; through 2018 it asked 90 ksi and none.</summary>
    public const int RatioSince = 2020;

    /// <summary>A615 Grade 60 by the year of its edition, four digits.</summary>
    public static SteelTest A615(int editionYear)
    {
        var since = editionYear >= RatioSince;
        return new(60_000, null, since ? 80_000 : 90_000, since ? 1.10m : null, [(6, 9), (8, 8), (18, 7)],
            new("ASTM A615/A615M", SourceMark.Memory, since ? "A615/A615M-20 and later" : "A615/A615M-18 and earlier", "tensile requirements, Grade 60"));
    }

    /// <summary>A706 Grade 60.</summary>
    public static SteelTest A706 { get; } = new(60_000, 78_000, 80_000, 1.25m, [(6, 14), (11, 12), (18, 10)], new("ASTM A706/A706M", SourceMark.Memory, Clause: "tensile requirements, Grade 60"));

    /// <summary>Carbon equivalent, percent: C + Mn/6 + Cu/40 + Ni/20 + Cr/10 - Mo/50 - V/10. ASTM A706/A706M (from memory).</summary>
    public static decimal CarbonEquivalentPct(decimal carbon, decimal manganese, decimal copper = 0, decimal nickel = 0, decimal chromium = 0, decimal molybdenum = 0, decimal vanadium = 0) =>
        carbon + manganese / 6 + copper / 40 + nickel / 20 + chromium / 10 - molybdenum / 50 - vanadium / 10;

    /// <summary>Weight of a bar as rolled in percent of its nominal weight.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The length is not above 0.</exception>
    public static decimal WeightPct(NominalBar bar, decimal weightLb, decimal lengthFt)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(lengthFt);
        return weightLb / (bar.WeightLbPerFt * lengthFt) * 100;
    }
}
