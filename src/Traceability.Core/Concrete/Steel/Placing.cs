using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>How far steel may lie from its place by one standard.</summary>
/// <param name="PositionIn">Of the effective depth or of the place, inches, either way.</param>
/// <param name="CoverReductionIn">Largest reduction of the cover, inches.</param>
/// <param name="ShareDivisor">The reduction is also at most the specified cover over this; null where it is not.</param>
/// <param name="LeastCoverIn">Cover below which no tolerance goes, inches; 0 where the standard names none.</param>
public sealed record PlacingTolerance(decimal PositionIn, decimal CoverReductionIn, decimal? ShareDivisor, decimal LeastCoverIn, Citation Source)
{
    /// <summary>Least cover allowed for a specified cover, inches.</summary>
    public decimal LeastCover(decimal specifiedIn) => Math.Max(LeastCoverIn, Bars.LeastCoverIn(specifiedIn, CoverReductionIn, ShareDivisor));

    /// <summary>Effective depths allowed around the drawing's, inches.</summary>
    public Band Depth(decimal specifiedIn) => Band.Around(specifiedIn, PositionIn);
}

/// <summary>
/// Tolerances of placing by standard. They part by different measures: ACI 318 by effective depth, ACI 117 by the size of the
/// member, product standards by thickness; a 10 in wall with d = 8.2 in has -1/2 in by the first and -3/8 in by the second.
/// A contract picks one.
/// </summary>
public static class Placing
{
    /// <summary>Effective depth up to which ACI 318 asks the tighter tolerance, inches. Table 26.6.2.1 (from memory).</summary>
    public const decimal Aci318ShallowIn = 8;

    /// <summary>By effective depth, inches; at a formed soffit the reduction of cover is smaller. ACI 318-19, 26.6.2.1 (from memory).</summary>
    public static PlacingTolerance Aci318(decimal depthIn, bool formedSoffit = false)
    {
        var tolerance = depthIn <= Aci318ShallowIn ? 0.375m : 0.5m;
        return new(tolerance, formedSoffit ? 0.25m : tolerance, 3, 0, new("ACI 318", SourceMark.Memory, "318-19", "26.6.2.1"));
    }

    /// <summary>
    /// By the size of the member, inches, parted at 4, 12 and 24 in. ACI 117: cover of slabs up to 12 in and clear distance of
    /// members of 12 to 24 in were seen, the other rows are from memory.
    /// </summary>
    public static PlacingTolerance Aci117(decimal memberIn, bool formedSoffit = false) =>
        new(memberIn switch { <= 4 => 0.25m, <= 12 => 0.375m, <= 24 => 0.5m, _ => 1m },
            formedSoffit ? 0.25m : memberIn <= 12 ? 0.375m : 0.5m, 3, 0,
            new("ACI 117", memberIn is > 4 and <= 24 && !formedSoffit ? SourceMark.Published : SourceMark.Memory, Clause: "bar placing"));

    /// <summary>Box sections, by wall or slab thickness, inches. ASTM C1577, 11 (from memory).</summary>
    public static PlacingTolerance Box(decimal thicknessIn)
    {
        var tolerance = thicknessIn <= 5 ? 0.375m : 0.5m;
        return new(tolerance, tolerance, null, 0.625m, new("ASTM C1577", SourceMark.Memory, Clause: "11, permissible variations"));
    }

    /// <summary>Three-sided sections. ASTM C1504, 11 (from memory, not sure: take the contract's figure).</summary>
    public static PlacingTolerance ThreeSided { get; } = new(0.5m, 0.5m, null, 0.625m, new("ASTM C1504", SourceMark.Memory, Clause: "11, permissible variations"));

    /// <summary>Pipe, by wall thickness, inches: the greater of 10 % and 1/2 in; cover never under 1/4 in inside, 1/2 in outside. ASTM C76, 12 (from memory).</summary>
    public static PlacingTolerance Pipe(decimal wallIn, bool inside) => Round(wallIn, inside ? 0.25m : 0.5m, "ASTM C76", "12, permissible variations");

    /// <summary>Manhole sections, by wall thickness, inches. ASTM C478 (from memory).</summary>
    public static PlacingTolerance Manhole(decimal wallIn) => Round(wallIn, 0.5m, "ASTM C478", "permissible variations");

    private static PlacingTolerance Round(decimal wallIn, decimal leastIn, string document, string clause)
    {
        var tolerance = Math.Max(wallIn / 10, 0.5m);
        return new(tolerance, tolerance, null, leastIn, new(document, SourceMark.Memory, Clause: clause));
    }
}
