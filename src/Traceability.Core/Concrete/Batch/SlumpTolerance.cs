using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>Slump and slump flow allowed around what was ordered, inches. ASTM C94/C94M (from memory).</summary>
public static class SlumpTolerance
{
    /// <summary>Nominal slumps that part the tolerances, inches.</summary>
    public const decimal LowIn = 2, MiddleIn = 4;

    /// <summary>Slump ordered as a nominal figure.</summary>
    public static Band Nominal(decimal slumpIn) => Band.Around(slumpIn, slumpIn switch { <= LowIn => 0.5m, <= MiddleIn => 1m, _ => 1.5m });

    /// <summary>Slump ordered as a maximum.</summary>
    public static Band Maximum(decimal slumpIn) => Band.Around(slumpIn, slumpIn <= 3 ? 1.5m : 2.5m, 0);

    /// <summary>Slump flow ordered.</summary>
    public static Band Flow(decimal flowIn) => Band.Around(flowIn, flowIn <= 22 ? 1.5m : 2.5m);
}
