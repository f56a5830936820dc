using Traceability.Core.Profiles;

namespace Traceability.Core.Concrete;

/// <summary>One rung of a ladder of crack widths.</summary>
/// <param name="Ladder">Which ladder.</param>
/// <param name="Rung">The exposure, class or treatment it stands for.</param>
/// <param name="WidthIn">Width up to which the rung holds, inches; null for the last.</param>
public sealed record CrackRung(string Ladder, string Rung, decimal? WidthIn, Citation Source);

/// <summary>
/// Widths of cracks and depths of surface defects, as data. A crack and a spall of one place are two findings, not one grade;
/// which ladder holds is the contract's.
/// </summary>
public static class Defects
{
    private static readonly Citation Aci224 = new("ACI 224R", SourceMark.Memory, "224R-01", "Table 4.1");
    private static readonly Citation Aashto = new("AASHTO LRFD Bridge Design Specifications", SourceMark.Memory, Clause: "5.6.7, basis of the exposure classes");
    private static readonly Citation Agency = new("Ladders that agencies commonly use", SourceMark.CommonPractice);
    private static readonly Citation Florida = new("Florida DOT, Standard Specifications", SourceMark.Memory, Clause: "450");

    /// <summary>All ladders, each from its narrowest rung on.</summary>
    public static IReadOnlyList<CrackRung> Cracks { get; } =
    [
        new("ACI 224R", "water-retaining", 0.004m, Aci224), new("ACI 224R", "seawater", 0.006m, Aci224), new("ACI 224R", "deicer", 0.007m, Aci224),
        new("ACI 224R", "moist", 0.012m, Aci224), new("ACI 224R", "dry", 0.016m, Aci224),
        new("AASHTO LRFD", "class 2", 0.013m, Aashto), new("AASHTO LRFD", "class 1", 0.017m, Aashto),
        new("pipe load test", "over 12 in", 0.010m, new("Iowa DOT, Instructional Memorandum 445", SourceMark.Published, Clause: "Appendix AA, crack test of M 170 and C76")),
        new("shop procedure", "cosmetic", 0.005m, new("A public crack-repair procedure for thin-wall panels", SourceMark.Published)),
        new("agency", "leave or seal", 0.006m, Agency), new("agency", "seal or inject", 0.012m, Agency), new("agency", "inject", 0.025m, Agency), new("agency", "engineer", null, Agency),
        new("Florida 450", "cosmetic", 0.006m, Florida), new("Florida 450", "minor", 0.012m, Florida), new("Florida 450", "major", null, Florida),
    ];

    /// <summary>The widest crack of a rung, inches; null when there is no such rung or it is the last.</summary>
    public static decimal? WidthIn(string ladder, string rung) => Cracks.FirstOrDefault(c => c.Ladder == ladder && c.Rung == rung)?.WidthIn;

    /// <summary>The rung a width falls on by a ladder of treatments; null for a ladder that has no rung so wide.</summary>
    public static CrackRung? Rung(string ladder, decimal widthIn) => Cracks.FirstOrDefault(c => c.Ladder == ladder && (c.WidthIn is not { } width || widthIn <= width));

    /// <summary>Deepest damage that is cosmetic, inches. Texas DOT, DMS-7305 (published).</summary>
    public const decimal CosmeticDepthIn = 0.375m;

    /// <summary>Voids larger than so many square inches or deeper than so many inches are patched. Federal guide specification UFGS 03300N (published).</summary>
    public const decimal PatchAboveIn2 = 1, PatchDeeperThanIn = 0.25m;

    /// <summary>Whether damage of a depth in inches is cosmetic.</summary>
    public static bool Cosmetic(decimal depthIn) => depthIn <= CosmeticDepthIn;

    /// <summary>Whether a void is patched, by its area in square inches and depth in inches.</summary>
    public static bool Patched(decimal areaIn2, decimal depthIn) => areaIn2 > PatchAboveIn2 || depthIn > PatchDeeperThanIn;
}
