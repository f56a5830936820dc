using Traceability.Core.Quantities;

namespace Traceability.Core.Concrete;

/// <summary>What is poured: a wall (and any member of its shape) or a column.</summary>
public enum FormMember { Wall, Column }

/// <summary>Blended or supplementary cementitious material.</summary>
public enum Blend
{
    None,
    /// <summary>Less than 70 % slag and less than 40 % fly ash.</summary>
    Ordinary,
    High,
}

/// <summary>
/// Lateral pressure of fresh concrete on forms: ACI 347R-14, formulas since ACI 347-04. That the two wall formulas part at
/// 14 ft and at 7 and 15 ft/h, and the full head above a slump of 7 in, was seen in explanations of the 2004 edition
/// (published); the coefficients are from memory. A check of records: a form is designed by its engineer, local codes hold, and
/// nobody stands where a form could give way.
/// </summary>
public static class FormPressure
{
    /// <summary>Slump above which the formulas do not hold, inches (published).</summary>
    public const decimal LargestSlumpIn = 7;

    /// <summary>Rate of placing from which walls have the second formula, and above which there is none, ft/h (published).</summary>
    public const decimal SlowBelowFtH = 7, FastAboveFtH = 15;

    /// <summary>Height up to which a slow wall has the first formula, feet (published).</summary>
    public const decimal LowUpToFt = 14;

    /// <summary>Least pressure to design for, psf, times the unit weight coefficient.</summary>
    public const decimal LeastPsf = 600;

    /// <summary>The same limits as the SI edition prints them: m/h, m/h, m, kPa. They are rounded, not converted.</summary>
    public const decimal SlowBelowMH = 2.1m, FastAboveMH = 4.5m, LowUpToM = 4.2m, LeastKpa = 30;

    /// <summary>Unit weight coefficient by lb/ft3.</summary>
    public static decimal UnitWeightCoefficient(decimal lbFt3) => lbFt3 switch
    {
        < 140 => Math.Max(0.80m, 0.5m * (1 + lbFt3 / 145)),
        <= 150 => 1,
        _ => lbFt3 / 145,
    };

    /// <summary>Unit weight coefficient by kg/m3, as the SI edition prints it.</summary>
    public static decimal UnitWeightCoefficientSi(decimal kgM3) => kgM3 switch
    {
        < 2240 => Math.Max(0.80m, 0.5m * (1 + kgM3 / 2320)),
        <= 2400 => 1,
        _ => kgM3 / 2320,
    };

    /// <summary>Chemistry coefficient: 1.0 plain, 1.2 with a set-delaying admixture or an ordinary blend, 1.4 with both or with a high blend.</summary>
    public static decimal Chemistry(Blend blend, bool setDelayed) => (blend, setDelayed) switch
    {
        (Blend.High, _) or (Blend.Ordinary, true) => 1.4m,
        (Blend.Ordinary, false) or (_, true) => 1.2m,
        _ => 1.0m,
    };

    /// <summary>Full liquid head, psf: for self-consolidating concrete, a slump above 7 in, external vibration or faster placing.</summary>
    public static decimal FullHeadPsf(decimal lbFt3, decimal heightFt) => lbFt3 * heightFt;

    /// <summary>Full liquid head, kPa.</summary>
    public static decimal FullHeadKpa(decimal kgM3, decimal heightM) => kgM3 * Si.StandardGravity * heightM / 1000;

    /// <summary>
    /// Largest pressure, psf, of concrete of a slump of at most 7 in with normal internal vibration. Never above the full
    /// head; the full head itself above 15 ft/h, for columns too.
    /// </summary>
    /// <param name="heightFt">Height of the placement, feet.</param>
    /// <param name="rateFtH">Rate of placing, feet an hour.</param>
    /// <param name="temperatureF">Concrete temperature, degrees Fahrenheit, above 0.</param>
    /// <exception cref="ArgumentOutOfRangeException">The temperature is not above 0 F, or height or rate is below 0.</exception>
    public static decimal Psf(FormMember member, decimal heightFt, decimal rateFtH, decimal temperatureF, decimal lbFt3, decimal chemistry)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(temperatureF);
        var full = Head(FullHeadPsf(lbFt3, heightFt), heightFt, rateFtH);
        if (rateFtH > FastAboveFtH) return full;
        var first = member == FormMember.Column || (rateFtH < SlowBelowFtH && heightFt <= LowUpToFt);
        var inside = first ? 150 + 9000 * rateFtH / temperatureF : 150 + 43_400 / temperatureF + 2800 * rateFtH / temperatureF;
        var weight = UnitWeightCoefficient(lbFt3);
        return Math.Min(full, Math.Max(LeastPsf * weight, weight * chemistry * inside));
    }

    /// <summary>The same in SI, kPa, by the SI edition's own figures: metres, metres an hour, degrees Celsius, kg/m3.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The temperature is not above -17.8 C, or height or rate is below 0.</exception>
    public static decimal Kpa(FormMember member, decimal heightM, decimal rateMH, decimal temperatureC, decimal kgM3, decimal chemistry)
    {
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(temperatureC, -17.8m);
        var full = Head(FullHeadKpa(kgM3, heightM), heightM, rateMH);
        if (rateMH > FastAboveMH) return full;
        var above = temperatureC + 17.8m;
        var first = member == FormMember.Column || (rateMH < SlowBelowMH && heightM <= LowUpToM);
        var inside = first ? 7.2m + 785 * rateMH / above : 7.2m + 1156 / above + 244 * rateMH / above;
        var weight = UnitWeightCoefficientSi(kgM3);
        return Math.Min(full, Math.Max(LeastKpa * weight, weight * chemistry * inside));
    }

    private static decimal Head(decimal full, decimal height, decimal rate)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(height);
        ArgumentOutOfRangeException.ThrowIfNegative(rate);
        return full;
    }
}
