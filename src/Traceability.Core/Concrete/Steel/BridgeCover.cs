namespace Traceability.Core.Concrete;

/// <summary>Where a member stands, as the table of covers parts it.</summary>
public enum CoverSituation
{
    DirectSaltWater, CastAgainstEarth, Coastal, DeicingSalts, DeckWithStudOrChainWear, Exterior, Interior,
    BoxTopSlabRidingSurface, BoxTopSlabShallowFill, BoxOther, PrecastPileNonCorrosive, PrecastPileCorrosive,
}

/// <summary>Cover of main bars of bridges. AASHTO LRFD Bridge Design Specifications, 8th and 9th editions, 5.10.1 (from memory; to be checked again in the 10th, 2024).</summary>
public static class BridgeCover
{
    /// <summary>No modified cover is less, inches.</summary>
    public const decimal LeastIn = 1;

    /// <summary>Ties and stirrups may have so much less than main bars, inches.</summary>
    public const decimal TieReductionIn = 0.5m;

    /// <summary>Cover of the table, inches.</summary>
    /// <param name="barNumber">Bar number; it matters for interior members alone.</param>
    public static decimal TableIn(CoverSituation situation, int barNumber) => situation switch
    {
        CoverSituation.DirectSaltWater => 4,
        CoverSituation.CastAgainstEarth or CoverSituation.Coastal or CoverSituation.PrecastPileCorrosive => 3,
        CoverSituation.DeicingSalts or CoverSituation.DeckWithStudOrChainWear or CoverSituation.BoxTopSlabRidingSurface => 2.5m,
        CoverSituation.Exterior or CoverSituation.BoxTopSlabShallowFill or CoverSituation.PrecastPileNonCorrosive => 2,
        CoverSituation.Interior => barNumber <= 11 ? 1.5m : 2,
        CoverSituation.BoxOther => 1,
        _ => throw new ArgumentOutOfRangeException(nameof(situation), situation, "not a situation of the table"),
    };

    /// <summary>The same cover as the table prints it in millimetres.</summary>
    public static decimal TableMm(CoverSituation situation, int barNumber) => TableIn(situation, barNumber) switch
    {
        4 => 100,
        3 => 75,
        2.5m => 65,
        2 => 50,
        1.5m => 40,
        _ => 25,
    };

    /// <summary>
    /// Cover by the water-cement ratio, inches: 0.8 times the table at 0.40 and below, 1.2 times at 0.50 and above, never less
    /// than 1 in; then 1/2 in less for ties.
    /// </summary>
    public static decimal In(CoverSituation situation, int barNumber, decimal waterToCementitious, bool tie = false)
    {
        var factor = waterToCementitious switch { <= 0.40m => 0.8m, >= 0.50m => 1.2m, _ => 1m };
        return Math.Max(LeastIn, TableIn(situation, barNumber) * factor) - (tie ? TieReductionIn : 0);
    }
}
