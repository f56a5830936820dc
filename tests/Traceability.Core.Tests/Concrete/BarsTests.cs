using Traceability.Core.Concrete;
using Traceability.Core.Profiles;

namespace Traceability.Core.Tests.Concrete;

public sealed class BarsTests
{
    [Theory]
    [InlineData("#3", 0.375, 0.11, 0.376)]
    [InlineData("#4", 0.500, 0.20, 0.668)]
    [InlineData("#5", 0.625, 0.31, 1.043)]
    [InlineData("#6", 0.750, 0.44, 1.502)]
    [InlineData("#7", 0.875, 0.60, 2.044)]
    [InlineData("#8", 1.000, 0.79, 2.670)]
    [InlineData("#9", 1.128, 1.00, 3.400)]
    [InlineData("#10", 1.270, 1.27, 4.303)]
    [InlineData("#11", 1.410, 1.56, 5.313)]
    [InlineData("#14", 1.693, 2.25, 7.650)]
    [InlineData("#18", 2.257, 4.00, 13.600)]
    [OutsideCheck("Nominal diameter, area and weight of bars Nos. 3 to 18", "the printed table, e.g. No. 5: 0.625 in, 0.31 in2, 1.043 lb/ft", "PCI Design Handbook, 7th edition, Design Aid 15.4.1", SourceMark.Published)]
    public void Nominal_bars_are_the_printed_table(string size, double diameter, double area, double weight)
    {
        var bar = Bars.Nominal(size)!;
        Assert.Equal(((decimal)diameter, (decimal)area, (decimal)weight), (bar.DiameterIn, bar.AreaIn2, bar.WeightLbPerFt));
    }

    [Theory]
    [InlineData("#12")]
    [InlineData("W10")]
    [InlineData("")]
    public void A_size_outside_the_table_has_no_nominal_bar(string size) => Assert.Null(Bars.Nominal(size));

    [Fact]
    [OutsideCheck("Weight of 36 bars No. 5, 11 ft 6 in long", "431.8 lb", "PCI Design Handbook, 7th edition, Design Aid 15.4.1", SourceMark.Published, Tolerance = "0.05 lb")]
    [OutsideCheck("Steel of No. 5 bars at 6 in", "0.62 in2/ft", "PCI Design Handbook, 7th edition, Design Aid 15.4.1", SourceMark.Published)]
    public void Weight_and_steel_per_foot_come_from_the_table()
    {
        var bar = Bars.Nominal("#5")!;
        Assert.Equal(431.8m, decimal.Round(Bars.WeightLb(bar, 36, 11.5m), 1));
        Assert.Equal(0.62m, Bars.AreaIn2PerFt(bar.AreaIn2, 6));
    }

    [Theory]
    [InlineData("#8", 1.000, 0.001)]
    [InlineData("#11", 1.410, 0.001)]
    [OutsideCheck("Weight per foot by 3.4 pi/4 d2 against the table, Nos. 8 and 11", "2.6704 for 2.670, 5.3089 for 5.313 lb/ft", "steel of 490 lb/ft3", SourceMark.Memory, Tolerance = "0.1 %")]
    public void The_table_agrees_with_the_weight_of_plain_round_steel(string size, double diameter, double tolerance)
    {
        var byFormula = 3.4m * Strength.AreaIn2((decimal)diameter);
        var table = Bars.Nominal(size)!.WeightLbPerFt;
        Assert.True(Math.Abs(byFormula - table) / table <= (decimal)tolerance);
    }

    [Theory]
    [InlineData(0.10, 3, 0.40)]
    [InlineData(0.04, 8, 0.06)]
    [OutsideCheck("Welded wire 3 x 8 W10 x D4: steel per foot each way", "0.40 and 0.06 in2/ft", "ASTM A1064/A1064M, wire number / 100 = area", SourceMark.Memory)]
    public void Wire_by_its_number_gives_steel_per_foot(double area, double spacing, double expected) =>
        Assert.Equal((decimal)expected, Bars.AreaIn2PerFt((decimal)area, (decimal)spacing));

    [Theory]
    [InlineData("1.5", "0.375", "1.125")]
    [InlineData("1.0", "0.5", "0.667")]
    [InlineData("2.0", "0.5", "1.5")]
    [OutsideCheck("Least cover: d 7.5 in, cover 1.5; d 9, cover 1.0; d 9, cover 2.0", "1.125, 0.667, 1.5 in", "ACI 318-19, Table 26.6.2.1", SourceMark.Memory, Tolerance = "0.0005 in")]
    public void Cover_may_be_less_by_the_smaller_of_the_tolerance_and_a_third(string specified, string reduction, string least) =>
        Assert.Equal(decimal.Parse(least), decimal.Round(Bars.LeastCoverIn(decimal.Parse(specified), decimal.Parse(reduction), 3), 3));

    [Fact]
    public void An_owner_may_allow_no_reduction() => Assert.Equal(2m, Bars.LeastCoverIn(2m, 0, 3));
}
