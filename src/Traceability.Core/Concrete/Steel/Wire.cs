using System.Globalization;
using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>
/// A wire by its size number: "W10" plain, "D4" deformed; the number is the area in hundredths of a square inch.
/// ASTM A1064/A1064M (from memory).
/// </summary>
/// <param name="AreaIn2">Nominal area, square inches.</param>
public sealed record Wire(bool Deformed, decimal AreaIn2)
{
    /// <summary>Weight of a foot of steel per square inch of area: 490 lb/ft3 / 144 = 3.4 lb, rounded as the trade does (from memory).</summary>
    public const decimal LbPerFtPerIn2 = 3.4m;

    /// <summary>The wire of a size, or null when the text is none.</summary>
    public static Wire? Parse(string size) =>
        size.Length > 1 && size[0] is 'W' or 'D' && decimal.TryParse(size.AsSpan(1), NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var number) && number is > 0 and < 1000
            ? new Wire(size[0] == 'D', number / 100)
            : null;

    /// <summary>Weight, pounds per foot.</summary>
    public decimal WeightLbPerFt => LbPerFtPerIn2 * AreaIn2;

    /// <summary>Diameter of the round of the same area, inches.</summary>
    public decimal DiameterIn => Exact.Sqrt(4 * AreaIn2 / Exact.Pi);

    /// <summary>Least yield strength of a welded wire, psi. ASTM A1064/A1064M (from memory).</summary>
    public decimal LeastYieldPsi => Deformed ? 70_000 : AreaIn2 < SmallestFullStrengthIn2 ? 56_000 : 65_000;

    /// <summary>Least tensile strength of a welded wire, psi. ASTM A1064/A1064M (from memory).</summary>
    public decimal LeastTensilePsi => Deformed ? 80_000 : AreaIn2 < SmallestFullStrengthIn2 ? 70_000 : 75_000;

    /// <summary>W1.2: plain wires below it have lower strengths. ASTM A1064/A1064M (from memory).</summary>
    private const decimal SmallestFullStrengthIn2 = 0.012m;
}

/// <summary>A style of welded wire reinforcement: "3 x 8 W10 x D4".</summary>
/// <param name="LongitudinalSpacingIn">Spacing of the longitudinal wires, inches.</param>
/// <param name="TransverseSpacingIn">Spacing of the transverse wires, inches.</param>
public sealed record WeldedWire(decimal LongitudinalSpacingIn, decimal TransverseSpacingIn, Wire Longitudinal, Wire Transverse)
{
    /// <summary>Least shear strength of a weld per square inch of the larger wire, psi. ASTM A1064/A1064M (from memory).</summary>
    public const decimal WeldShearPsi = 35_000;

    /// <summary>Smaller wire in percent of the larger from which the weld shear holds. ASTM A1064/A1064M (from memory).</summary>
    public const decimal SmallestSharePct = 40;

    /// <summary>The style of a text, or null when it is none. Spaces do not matter; the sign between is "x" or "X".</summary>
    public static WeldedWire? Parse(string style)
    {
        var text = string.Concat(style.Where(c => !char.IsWhiteSpace(c)));
        var wires = text.IndexOfAny(['W', 'D']);
        if (wires < 0) return null;
        var spacings = text[..wires].Split('x', 'X');
        var sizes = text[wires..].Split('x', 'X');
        return spacings.Length == 2 && sizes.Length == 2
            && Spacing(spacings[0], out var longitudinal) && Spacing(spacings[1], out var transverse)
            && Wire.Parse(sizes[0]) is { } first && Wire.Parse(sizes[1]) is { } second
            ? new WeldedWire(longitudinal, transverse, first, second) : null;
    }

    /// <summary>Steel of the longitudinal wires, square inches per foot of width.</summary>
    public decimal LongitudinalIn2PerFt => Bars.AreaIn2PerFt(Longitudinal.AreaIn2, LongitudinalSpacingIn);

    /// <summary>Steel of the transverse wires, square inches per foot of length.</summary>
    public decimal TransverseIn2PerFt => Bars.AreaIn2PerFt(Transverse.AreaIn2, TransverseSpacingIn);

    /// <summary>Weight of a sheet, pounds per square foot, without overhangs.</summary>
    public decimal WeightLbPerFt2 => Wire.LbPerFtPerIn2 * (LongitudinalIn2PerFt + TransverseIn2PerFt);

    /// <summary>Least shear of a weld, pounds-force; null where the smaller wire is below its share of the larger and none is asked.</summary>
    public decimal? WeldShearLbf
    {
        get
        {
            var (small, large) = (Math.Min(Longitudinal.AreaIn2, Transverse.AreaIn2), Math.Max(Longitudinal.AreaIn2, Transverse.AreaIn2));
            return small * 100 >= large * SmallestSharePct ? WeldShearPsi * large : null;
        }
    }

    private static bool Spacing(string text, out decimal spacing) =>
        decimal.TryParse(text, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out spacing) && spacing > 0;
}
