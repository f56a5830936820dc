namespace Traceability.Core.Quantities;

/// <summary>
/// US customary to SI. The inch, the pound and the gallon are defined exactly in SI; the rest follows from them and the
/// standard acceleration of gravity. NIST Special Publication 811, 2008 edition, appendix B (from memory).
/// </summary>
public static class Si
{
    public const decimal MmPerIn = 25.4m;
    public const decimal MPerFt = 0.3048m;
    public const decimal KgPerLb = 0.45359237m;
    public const decimal LitrePerUsGallon = 3.785411784m;

    /// <summary>Standard acceleration of gravity, metres per second squared.</summary>
    public const decimal StandardGravity = 9.80665m;

    /// <summary>Newtons of one pound-force.</summary>
    public const decimal NewtonPerLbf = KgPerLb * StandardGravity;

    /// <summary>Kilometres of one statute mile.</summary>
    public const decimal KmPerMile = 1.609344m;

    /// <summary>Kilopascals of one pound per square foot.</summary>
    public const decimal KpaPerPsf = NewtonPerLbf / (MPerFt * MPerFt) / 1000;

    /// <summary>Megapascals of one pound per square inch.</summary>
    public const decimal MpaPerPsi = NewtonPerLbf / (MmPerIn * MmPerIn);

    /// <summary>Kilograms per cubic metre of one pound per cubic foot.</summary>
    public const decimal KgM3PerLbFt3 = KgPerLb / (MPerFt * MPerFt * MPerFt);

    /// <summary>Kilograms per square metre of one pound per square foot.</summary>
    public const decimal KgM2PerLbFt2 = KgPerLb / (MPerFt * MPerFt);

    /// <summary>Newton-metres of one foot-pound-force.</summary>
    public const decimal NmPerFtLbf = NewtonPerLbf * MPerFt;

    public static decimal Celsius(decimal fahrenheit) => (fahrenheit - 32) * 5 / 9;

    public static decimal Fahrenheit(decimal celsius) => celsius * 9 / 5 + 32;
}
