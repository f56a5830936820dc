using System.Globalization;

namespace Traceability.Core.Concrete;

/// <summary>A singly reinforced section.</summary>
/// <param name="WidthIn">Width, inches; 12 for a strip of a foot.</param>
/// <param name="HeightIn">Overall height, inches.</param>
/// <param name="AreaIn2">Steel in that width, square inches.</param>
/// <param name="BarDiameterIn">Diameter of the bars, inches.</param>
/// <param name="YieldKsi">Specified yield strength of the steel, ksi.</param>
/// <param name="StrengthKsi">Specified strength of the concrete, ksi.</param>
/// <param name="Phi">Strength reduction factor, an input because codes disagree: see <see cref="Flexure.PhiTension"/>.</param>
public sealed record FlexuralSection(decimal WidthIn, decimal HeightIn, decimal AreaIn2, decimal BarDiameterIn, decimal YieldKsi, decimal StrengthKsi, decimal Phi);

/// <summary>Strength of a section at one cover.</summary>
/// <param name="DepthIn">Effective depth, inches.</param>
/// <param name="BlockIn">Depth of the stress block, inches.</param>
/// <param name="NominalKipFt">Nominal moment, kip-feet.</param>
/// <param name="DesignKipFt">Nominal moment times phi, kip-feet.</param>
/// <param name="NeutralAxisIn">Depth of the neutral axis, inches.</param>
/// <param name="SteelStrain">Strain of the steel at the concrete's 0.003.</param>
public sealed record FlexuralStrength(decimal DepthIn, decimal BlockIn, decimal NominalKipFt, decimal DesignKipFt, decimal NeutralAxisIn, decimal SteelStrain);

/// <summary>What a measured cover does to a section.</summary>
/// <param name="Ratio">Design moment as measured over that as specified.</param>
/// <param name="Statement">The same in words, and who decides.</param>
public sealed record CoverConsequence(FlexuralStrength Specified, FlexuralStrength Measured, decimal Ratio, string Statement);

/// <summary>
/// Flexural strength by the rectangular stress block. ACI 318-19, 22.2 and 22.3 (from memory). It says what a deviation costs
/// and decides nothing: the engineer of record does.
/// </summary>
public static class Flexure
{
    /// <summary>Phi of tension-controlled sections. ACI 318-19, 21.2, and AASHTO LRFD (from memory).</summary>
    public const decimal PhiTension = 0.90m;

    /// <summary>Phi of precast boxes. AASHTO LRFD, Table 12.5.5-1 (from memory).</summary>
    public const decimal PhiPrecastBox = 1.00m;

    /// <summary>Phi of precast three-sided structures. AASHTO LRFD, Table 12.5.5-1 (from memory).</summary>
    public const decimal PhiThreeSided = 0.95m;

    /// <summary>Strain of the concrete at strength. ACI 318-19, 22.2.2.1 (from memory).</summary>
    public const decimal ConcreteStrain = 0.003m;

    /// <summary>Depth of the block over that of the neutral axis: 0.85, less 0.05 for each ksi above 4, at least 0.65. ACI 318-19, 22.2.2.4.3 (from memory).</summary>
    public static decimal Beta1(decimal strengthKsi) => Math.Clamp(0.85m - 0.05m * (strengthKsi - 4), 0.65m, 0.85m);

    /// <summary>Strength at a cover to the bars, inches.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The bars lie outside the section, or the block is deeper than the steel: no tension is left.</exception>
    public static FlexuralStrength At(FlexuralSection section, decimal coverIn) =>
        Tried(section, coverIn) ?? throw new ArgumentOutOfRangeException(nameof(coverIn), coverIn, "the cover has to leave the steel inside the section and below its neutral axis");

    /// <summary>The same; null where no tension is left.</summary>
    public static FlexuralStrength? Tried(FlexuralSection section, decimal coverIn)
    {
        var depth = section.HeightIn - coverIn - section.BarDiameterIn / 2;
        var tension = section.AreaIn2 * section.YieldKsi;
        var block = tension / (0.85m * section.StrengthKsi * section.WidthIn);
        var axis = block / Beta1(section.StrengthKsi);
        if (coverIn < 0 || depth <= axis) return null;
        var nominal = tension * (depth - block / 2) / 12;
        return new(depth, block, nominal, section.Phi * nominal, axis, ConcreteStrain * (depth - axis) / axis);
    }

    /// <summary>Before and after a measured cover, inches. Steel too deep lowers strength, steel too shallow lowers durability: both are said.</summary>
    public static CoverConsequence Of(FlexuralSection section, decimal specifiedIn, decimal measuredIn)
    {
        var (before, after) = (At(section, specifiedIn), At(section, measuredIn));
        var ratio = after.DesignKipFt / before.DesignKipFt;
        var effect = measuredIn > specifiedIn ? "The steel lies deeper than drawn, which lowers the strength."
            : measuredIn < specifiedIn ? "The steel lies shallower than drawn, which lowers the durability and not the strength."
            : "The cover is as drawn.";
        return new(before, after, ratio, string.Create(CultureInfo.InvariantCulture,
            $"Flexural strength {before.DesignKipFt:0.00} kip-ft at {specifiedIn:0.###} in of cover, {after.DesignKipFt:0.00} kip-ft at {measuredIn:0.###} in: ratio {ratio:0.000}. {effect} The engineer of record decides."));
    }
}
