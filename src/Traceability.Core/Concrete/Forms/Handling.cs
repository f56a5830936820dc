using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>Steps of handling a piece.</summary>
public enum HandlingStep { StripSmoothFlat, StripRibbed, YardAndErection, Truck }

/// <summary>
/// Static multipliers of weight and the concrete stress of handling. PCI Design Handbook, 7th edition, 8.3.1 (from memory).
/// The strength that a piece needs before it is lifted stands on its drawing; this checks it and decides nothing: the licensed
/// engineer and local codes do, and nobody is under the piece.
/// </summary>
public static class Handling
{
    /// <summary>Modulus of rupture of normal-weight concrete over the root of its strength in psi. PCI Design Handbook (from memory).</summary>
    public const decimal RuptureCoefficient = 7.5m;

    /// <summary>Safety against cracking. PCI Design Handbook (from memory).</summary>
    public const decimal CrackingSafety = 1.5m;

    /// <summary>Equivalent static multiplier of the weight, lowest and highest.</summary>
    public static Band Multiplier(HandlingStep step) => step switch
    {
        HandlingStep.StripSmoothFlat => new(1.2m, 1.3m),
        HandlingStep.StripRibbed => new(1.4m, 1.6m),
        HandlingStep.YardAndErection => new(1.2m, 1.2m),
        HandlingStep.Truck => new(1.5m, 1.5m),
        _ => throw new ArgumentOutOfRangeException(nameof(step), step, "not a step of handling"),
    };

    /// <summary>Largest tension without cracking, psi, at a strength at that moment, psi: 7.5 roots over 1.5, 5 roots.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The strength is below 0.</exception>
    public static decimal TensionPsi(decimal strengthPsi) => RuptureCoefficient * Exact.Sqrt(strengthPsi) / CrackingSafety;

    /// <summary>Least strength at lifting, psi, that keeps a tension, psi, from cracking the piece.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The tension is below 0.</exception>
    public static decimal StrengthPsi(decimal tensionPsi)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(tensionPsi);
        var root = tensionPsi * CrackingSafety / RuptureCoefficient;
        return root * root;
    }
}
