using Traceability.Core.Concrete;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Tests.Concrete;

public sealed class ProductTolerancesTests
{
    [Fact]
    [OutsideCheck("Box of 12 ft span: internal span", "142.56 to 145.44 in", "ASTM C1577, 11", SourceMark.Memory)]
    public void The_span_of_a_box_is_inside_one_percent() => Assert.Equal(new Band(142.56m, 145.44m), ProductTolerances.BoxOpeningIn(144));

    [Theory]
    [InlineData("10", "9.5")]
    [InlineData("3", "2.8125")]
    [InlineData("3.75", "3.5625")]
    [OutsideCheck("Walls of 10 in (box) and 3 in (pipe): least thickness", "9.50 and 2.8125 in", "ASTM C1577, 11, and C76, 12", SourceMark.Memory)]
    public void A_wall_may_be_thinner_by_the_larger_of_a_share_and_a_figure(string specified, string least)
    {
        var band = ProductTolerances.ThicknessIn(decimal.Parse(specified));
        Assert.Equal(decimal.Parse(least), band.Least);
        Assert.Null(band.Greatest);
        Assert.True(band.Holds(100));
    }

    [Theory]
    [InlineData("12", "0.75")]
    [InlineData("7", "0.625")]
    [InlineData("7.01", "0.75")]
    [InlineData("4", "0.5")]
    [OutsideCheck("Opposite faces of a box of 12 ft span", "at most 3/4 in apart", "ASTM C1577, 11", SourceMark.Memory)]
    public void Opposite_faces_of_a_box_differ_by_its_span_and_no_more_than_a_cap(string span, string apart) =>
        Assert.Equal(decimal.Parse(apart), ProductTolerances.BoxOppositeFacesIn(decimal.Parse(span)));

    [Fact]
    [OutsideCheck("Laying length of 6 ft", "at most 1/2 in under", "ASTM C1577, 11", SourceMark.Memory)]
    public void Laying_length_may_be_short_by_its_length_and_no_more_than_half_an_inch()
    {
        Assert.Equal(0.5m, ProductTolerances.LayingLengthUnderIn(6));
        Assert.Equal(0.25m, ProductTolerances.LayingLengthUnderIn(2));
        Assert.Equal((0.5m, 0.25m), (ProductTolerances.ManholeLengthUnderIn(4), ProductTolerances.ManholeLengthUnderIn(1)));
    }

    [Theory]
    [InlineData(12, "0.24")]
    [InlineData(18, "0.315")]
    [InlineData(24, "0.36")]
    [InlineData(27, "0.375")]
    [InlineData(36, "0.375")]
    [InlineData(48, "0.48")]
    [OutsideCheck("Diameter of pipe of 12, 24 and 48 in", "+-2 %, +-1.5 %, +-1 %", "ASTM C76, 12", SourceMark.Memory)]
    public void The_diameter_of_pipe_goes_by_its_size(int diameter, string tolerance) =>
        Assert.Equal(Band.Around(diameter, decimal.Parse(tolerance)), ProductTolerances.PipeDiameterIn(diameter));

    [Theory]
    [InlineData(11)]
    [InlineData(25)]
    public void No_pipe_is_made_between_the_rows(int diameter) => Assert.Throws<ArgumentOutOfRangeException>(() => ProductTolerances.PipeDiameterIn(diameter));

    [Theory]
    [InlineData(24, "0.25")]
    [InlineData(48, "0.5")]
    [InlineData(84, "0.625")]
    [InlineData(90, "0.75")]
    [OutsideCheck("Opposite sides of pipe of 24, 48, 84 and 90 in", "1/4, 1/2, 5/8, 3/4 in", "ASTM C76, 12", SourceMark.Memory)]
    public void Opposite_sides_of_pipe_go_by_its_diameter(int diameter, string apart) => Assert.Equal(decimal.Parse(apart), ProductTolerances.PipeOppositeSidesIn(diameter));

    [Fact]
    [OutsideCheck("Walls A, B and C of 48 in pipe", "4, 5 and 5 3/4 in", "National Precast Concrete Association, questions and answers on pipe walls", SourceMark.Published)]
    public void A_pipe_wall_goes_by_its_letter()
    {
        Assert.Equal((4m, 5m, 5.75m), (ProductTolerances.PipeWallIn('A', 48), ProductTolerances.PipeWallIn('B', 48), ProductTolerances.PipeWallIn('C', 48)));
        Assert.Null(ProductTolerances.PipeWallIn('D', 48));
    }

    [Fact]
    [OutsideCheck("Frame element of 120 in, 10 in thick: length and thickness; diagonals of a 12 ft side and of 30 ft", "+-1/4 in; +1/4 -1/8 in; 1/4 and 1/2 in", "PCI MNL-116 and MNL-135", SourceMark.Memory)]
    public void Elements_of_walls_and_frames_have_their_own_figures()
    {
        Assert.Equal(new Band(119.75m, 120.25m), ProductTolerances.ElementIn(120));
        Assert.Equal(new Band(9.875m, 10.25m), ProductTolerances.ElementThicknessIn(10));
        Assert.Equal((0.25m, 0.5m), (ProductTolerances.DiagonalsIn(12), ProductTolerances.DiagonalsIn(30)));
        Assert.Equal((0.5m, 1m), (ProductTolerances.BowingIn(180), ProductTolerances.BowingIn(720)));
        Assert.Equal(0.25m, ProductTolerances.SweepIn(20));
        Assert.Equal(new Band(47.52m, 48.48m), ProductTolerances.ManholeDiameterIn(48));
        Assert.Equal(new Band(7.75m, 8.25m), ProductTolerances.HaunchIn(8));
    }
}
