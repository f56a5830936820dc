namespace Traceability.Core.Concrete;

/// <summary>What cold weather asks of one thickness of section, degrees Fahrenheit.</summary>
/// <param name="PlacedF">Least temperature as placed and maintained.</param>
/// <param name="MixedMildF">Least as mixed, air above 30 F.</param>
/// <param name="MixedColdF">Least as mixed, air from 0 to 30 F.</param>
/// <param name="MixedSevereF">Least as mixed, air below 0 F.</param>
/// <param name="DropF">Largest fall in the first 24 h after protection ends.</param>
public sealed record ColdRow(decimal PlacedF, decimal MixedMildF, decimal MixedColdF, decimal MixedSevereF, decimal DropF)
{
    /// <summary>Least temperature as mixed at an air temperature, degrees Fahrenheit.</summary>
    public decimal MixedF(decimal airF) => airF > 30 ? MixedMildF : airF >= 0 ? MixedColdF : MixedSevereF;
}

/// <summary>Editions of ACI 306R that define cold weather differently.</summary>
public enum ColdDefinition
{
    /// <summary>Three days with a mean below 40 F and not above 50 F for more than half of any 24 h (published).</summary>
    ThreeDays,
    /// <summary>Air at or below 40 F during the protection. 306R-10 and -16 (from memory).</summary>
    AirAtForty,
}

/// <summary>
/// Concreting in the cold. ACI 306R: placed and maintained at 55 and 50 F for sections below 12 and to 36 in were seen (published),
/// the thicker rows are from memory.
/// </summary>
public static class ColdWeather
{
    /// <summary>Least temperature at placing of precast work, degrees Fahrenheit. National Precast Concrete Association (published).</summary>
    public const decimal PrecastPlacedF = 45;

    /// <summary>Hottest mixing water, degrees Fahrenheit. National Precast Concrete Association (published).</summary>
    public const decimal MixingWaterF = 180;

    /// <summary>Concrete frozen before it reached so much strength is discarded, psi. National Precast Concrete Association (published).</summary>
    public const decimal FrozenBelowPsi = 500;

    /// <summary>Fastest cooling after protection, degrees Fahrenheit an hour. Federal guide specification UFGS 03300N (published).</summary>
    public const decimal CoolingFPerHour = 5;

    /// <summary>Air at which the newer editions begin, degrees Fahrenheit.</summary>
    public const decimal ColdAirF = 40;

    /// <summary>The row of a section by its least dimension, inches: below 12, to 36, to 72, above.</summary>
    public static ColdRow Row(decimal sectionIn) => sectionIn switch
    {
        < 12 => new(55, 60, 65, 70, 50),
        <= 36 => new(50, 55, 60, 65, 40),
        <= 72 => new(45, 50, 55, 60, 30),
        _ => new(40, 45, 50, 55, 20),
    };

    /// <summary>Whether it is cold weather by the newer editions, from the lowest air during the protection, degrees Fahrenheit.</summary>
    public static bool IsCold(decimal lowestAirF) => lowestAirF <= ColdAirF;

    /// <summary>
    /// Whether it is cold weather by the older definition: three successive days of mean air below 40 F, none with air above
    /// 50 F for more than half of it.
    /// </summary>
    /// <param name="days">Mean air, degrees Fahrenheit, and hours above 50 F of each day, in order.</param>
    public static bool IsColdByDays(IReadOnlyList<(decimal MeanF, decimal HoursAbove50)> days)
    {
        var run = 0;
        foreach (var (mean, above) in days)
        {
            run = mean < ColdAirF && above <= 12 ? run + 1 : 0;
            if (run >= 3) return true;
        }

        return false;
    }
}

/// <summary>Concreting in the heat.</summary>
public static class HotWeather
{
    /// <summary>Hottest concrete as placed, degrees Fahrenheit, where nothing else is specified. ACI 305.1 (from memory).</summary>
    public const decimal PlacedF = 95;
}
