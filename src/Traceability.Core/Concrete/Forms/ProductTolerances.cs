using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>
/// Dimensions of finished products. ASTM C1577 and C1433 (box), C76 (pipe), C478 (manhole), all from memory: only the opening
/// pages of these standards were seen. A contract confirms the figures before a packet rests on them.
/// </summary>
public static class ProductTolerances
{
    /// <summary>Under the thickness of a wall or slab by the larger of 5 % and 3/16 in; over is no cause for rejection. Inches. C1577, C76, C478.</summary>
    public static Band ThicknessIn(decimal specifiedIn) => Band.Around(specifiedIn, Math.Max(specifiedIn * 5 / 100, 0.1875m), null);

    /// <summary>Span or rise of a box, inches. C1577, 11.</summary>
    public static Band BoxOpeningIn(decimal specifiedIn) => Band.Percent(specifiedIn, 1);

    /// <summary>Dimension of a haunch, inches. C1577, 11.</summary>
    public static Band HaunchIn(decimal specifiedIn) => Band.Around(specifiedIn, 0.25m);

    /// <summary>Largest difference of length between two opposite faces of a box, inches, by its span in feet. C1577, 11.</summary>
    public static decimal BoxOppositeFacesIn(decimal spanFt) => Math.Min(spanFt / 8, spanFt <= 7 ? 0.625m : 0.75m);

    /// <summary>How much shorter than specified a section of box or pipe may be, inches, by its laying length in feet. C1577, 11; C76, 12.</summary>
    public static decimal LayingLengthUnderIn(decimal lengthFt) => Math.Min(lengthFt / 8, 0.5m);

    /// <summary>
    /// Internal diameter of pipe, inches: from 2 % at 12 in by straight line to 1.5 % at 24 in; from 27 in on the greater of 1 %
    /// and 3/8 in. C76, 12.
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">The diameter is below 12 in, or lies between 24 and 27 in where no pipe is made.</exception>
    public static Band PipeDiameterIn(decimal specifiedIn)
    {
        if (specifiedIn is < 12 or (> 24 and < 27))
            throw new ArgumentOutOfRangeException(nameof(specifiedIn), specifiedIn, "pipe is made from 12 to 24 in and from 27 in on");
        return specifiedIn <= 24 ? Band.Percent(specifiedIn, 2 - (specifiedIn - 12) / 24) : Band.Around(specifiedIn, Math.Max(specifiedIn / 100, 0.375m));
    }

    /// <summary>Largest difference between two opposite sides of a pipe, inches, by its diameter in inches. C76, 12.</summary>
    public static decimal PipeOppositeSidesIn(decimal diameterIn) =>
        diameterIn <= 24 ? 0.25m : Math.Min(diameterIn / 12 / 8, diameterIn <= 84 ? 0.625m : 0.75m);

    /// <summary>Wall of pipe by its letter, inches: "A" is the diameter in feet, "B" 1 in more, "C" 1 3/4 in more. National Precast Concrete Association, questions and answers (published).</summary>
    public static decimal? PipeWallIn(char wall, decimal diameterIn) => wall switch
    {
        'A' => diameterIn / 12,
        'B' => diameterIn / 12 + 1,
        'C' => diameterIn / 12 + 1.75m,
        _ => null,
    };

    /// <summary>Internal diameter of a manhole section, inches. C478.</summary>
    public static Band ManholeDiameterIn(decimal specifiedIn) => Band.Percent(specifiedIn, 1);

    /// <summary>How much shorter than specified a manhole section may be, inches, by its laying length in feet. C478.</summary>
    public static decimal ManholeLengthUnderIn(decimal lengthFt) => Math.Min(lengthFt / 4, 0.5m);

    /// <summary>Largest difference between two opposite sides of a manhole section, inches. C478.</summary>
    public const decimal ManholeOppositeSidesIn = 0.625m;

    /// <summary>Length, width or height of a wall or frame element, inches. PCI MNL-116 and MNL-135 (from memory).</summary>
    public static Band ElementIn(decimal specifiedIn) => Band.Around(specifiedIn, 0.25m);

    /// <summary>Thickness of a wall or frame element, inches. PCI MNL-116 and MNL-135 (from memory).</summary>
    public static Band ElementThicknessIn(decimal specifiedIn) => Band.Around(specifiedIn, 0.125m, 0.25m);

    /// <summary>Largest difference of two diagonals, inches, by the longer side in feet: 1/8 in for each 6 ft, at most 1/2 in. PCI MNL-135 (from memory).</summary>
    public static decimal DiagonalsIn(decimal sideFt) => Math.Min(sideFt / 6 / 8, 0.5m);

    /// <summary>Largest bowing, inches, by the length in inches: 1/360, at most 1 in. PCI MNL-135 (from memory).</summary>
    public static decimal BowingIn(decimal lengthIn) => Math.Min(lengthIn / 360, 1);

    /// <summary>Largest sweep of a beam, inches, by its length in feet: 1/8 in for each 10 ft. PCI MNL-116 (from memory).</summary>
    public static decimal SweepIn(decimal lengthFt) => lengthFt / 10 / 8;
}
