using Traceability.Core.Events;

namespace Traceability.Service.Packets.Pages;

internal static class CylinderStrength
{
    private const decimal Pi = 3.14159265358979m;

    /// <summary>
    /// Load over the area of the mean diameter, psi, to the nearest 10; null when the two diameters differ by more than 2 %
    /// (ASTM C39/C39M, published).
    /// </summary>
    public static decimal? Of(CylinderBroken broken)
    {
        var (one, two) = (broken.Diameter1In.Value, broken.Diameter2In.Value);
        var mean = (one + two) / 2m;
        if (Math.Abs(one - two) > 0.02m * Math.Min(one, two)) return null;
        return decimal.Round(broken.LoadLbf.Value / (Pi * mean * mean / 4m) / 10m, 0, MidpointRounding.ToEven) * 10m;
    }
}
