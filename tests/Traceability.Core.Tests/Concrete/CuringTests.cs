using Traceability.Core.Concrete;
using Traceability.Core.Profiles;

namespace Traceability.Core.Tests.Concrete;

public sealed class CuringTests
{
    private static readonly CureReading[] Record =
        [new(0, 70), new(3, 74), new(4, 100), new(4.5m, 121), new(5.5m, 152), new(9, 159), new(13, 157), new(15, 120)];

    [Fact]
    [OutsideCheck("Cure record 0 h 70, 3 h 74, 4 h 100, 4.5 h 121, 5.5 h 152, 9 h 159, 13 h 157, 15 h 120 F: fastest rise", "42 F/h between 4 and 4.5 h (over 36 and 40)", "PCI MNL-116 and AASHTO LRFD Construction 8.11.3.5", SourceMark.Memory)]
    [OutsideCheck("The same record: peak", "159 F (over 158, under 160)", "PCI MNL-116 and AASHTO LRFD Construction 8.11.3.5", SourceMark.Memory)]
    [OutsideCheck("The same record: fastest cooling", "18.5 F/h between 13 and 15 h", "PCI MNL-116", SourceMark.Memory)]
    public void Rise_peak_and_cooling_are_taken_over_every_interval()
    {
        Assert.Equal(42m, Curing.FastestRise(Record));
        Assert.Equal(159m, Curing.Peak(Record));
        Assert.Equal(18.5m, Curing.FastestCooling(Record));
    }

    [Theory]
    [InlineData("4.0", "100")]
    [InlineData("4.5", "121")]
    [InlineData("4.25", "110.5")]
    [OutsideCheck("The same record: highest until initial set at 4.0 h and at 4.5 h", "100 F (below 104) and 121 F (not below)", "PCI MNL-117, commentary C4.19.1", SourceMark.Published)]
    public void The_temperature_until_initial_set_includes_the_moment_of_set(string set, string highest) =>
        Assert.Equal(decimal.Parse(highest), Curing.HighestUntil(Record, decimal.Parse(set)));

    [Fact]
    public void Without_readings_there_is_nothing_to_say()
    {
        Assert.Null(Curing.FastestRise([Record[0]]));
        Assert.Null(Curing.FastestCooling([]));
        Assert.Null(Curing.Peak([]));
        Assert.Null(Curing.HighestUntil(Record, -1));
        Assert.Null(Curing.HighestUntil([], 1));
        Assert.Equal(159m, Curing.HighestUntil(Record, 99));
    }

    [Fact]
    public void A_record_that_only_cools_never_rises() => Assert.Equal(0m, Curing.FastestRise([new(0, 100), new(1, 90)]));
}
