using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>Results of tests of fresh concrete from what was read.</summary>
public static class FreshTests
{
    /// <summary>Step of a reported slump flow, inches. ASTM C1611/C1611M (from memory).</summary>
    public const decimal FlowStepIn = 0.5m;

    /// <summary>Slump flow: mean of two diameters at right angles, inches, to 1/2 in by the rule. ASTM C1611/C1611M.</summary>
    public static decimal FlowIn(decimal firstIn, decimal secondIn, RoundingRule rule) => Rounding.RoundTo((firstIn + secondIn) / 2, FlowStepIn, rule);

    /// <summary>Air content, percent: gauge reading less the aggregate correction factor. ASTM C231/C231M (from memory).</summary>
    public static decimal AirPct(decimal gaugePct, decimal correctionPct) => gaugePct - correctionPct;
}
