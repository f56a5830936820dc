using Traceability.Core.Concrete;
using Traceability.Core.Profiles;

namespace Traceability.Core.Tests.Concrete;

public sealed class LiftingTests
{
    [Theory]
    [InlineData(4, "9742.8", "38971")]
    [InlineData(2, "19485.6", "77942")]
    [OutsideCheck("33,750 lb on 4 legs at 60 degrees: leg load, insert at four times", "9,742.8 lb, 38,971 lb", "29 CFR 1926.704(c)", SourceMark.Published, Tolerance = "0.05 lb, 0.5 lb")]
    [OutsideCheck("The same piece when only 2 legs carry", "19,485.6 lb, 77,942 lb", "29 CFR 1926.704(c)", SourceMark.Published, Tolerance = "0.05 lb, 0.5 lb")]
    public void A_leg_carries_its_share_by_the_sine_of_its_angle(int legs, string leg, string insert)
    {
        var load = Lifting.LegLoadLb(33750, legs, 60);
        Assert.Equal(decimal.Parse(leg), decimal.Round(load, 1));
        Assert.Equal(decimal.Parse(insert), decimal.Round(load * 4));
    }

    [Theory]
    [InlineData(30, 0.5)]
    [InlineData(45, 0.70710678118654752)]
    [InlineData(60, 0.86602540378443865)]
    [InlineData(90, 1)]
    public void The_sine_is_that_of_any_table(int degrees, double sine) => Assert.Equal((double)Lifting.Sine(degrees), sine, 15);

    [Fact]
    public void No_leg_and_no_angle_are_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => Lifting.LegLoadLb(100, 0, 60));
        Assert.Throws<ArgumentOutOfRangeException>(() => Lifting.Sine(0));
        Assert.Throws<ArgumentOutOfRangeException>(() => Lifting.Sine(90.1m));
    }

    [Fact]
    public void A_flatter_sling_carries_more() => Assert.True(Lifting.LegLoadLb(33750, 4, 45) > Lifting.LegLoadLb(33750, 4, 60));
}
