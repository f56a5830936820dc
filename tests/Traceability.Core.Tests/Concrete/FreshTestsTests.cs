using Traceability.Core.Concrete;
using Traceability.Core.Profiles;

namespace Traceability.Core.Tests.Concrete;

public sealed class FreshTestsTests
{
    [Theory]
    [InlineData(RoundingRule.HalfEven)]
    [InlineData(RoundingRule.HalfUp)]
    [OutsideCheck("Slump flow of 26.0 x 27.5 in", "27.0 in", "ASTM C1611/C1611M, mean of two diameters to 1/2 in", SourceMark.Memory)]
    public void Slump_flow_is_the_mean_of_two_diameters_to_half_an_inch(RoundingRule rule) => Assert.Equal(27.0m, FreshTests.FlowIn(26.0m, 27.5m, rule));

    [Theory]
    [InlineData(7.3, 0.4, 6.9)]
    [InlineData(8.1, 0.4, 7.7)]
    [OutsideCheck("Air by the pressure meter: gauge 7.3 and 8.1 %, correction 0.4 %", "6.9 and 7.7 %", "ASTM C231/C231M", SourceMark.Memory)]
    public void Air_is_the_gauge_less_the_aggregate_correction(double gauge, double correction, double expected) =>
        Assert.Equal((decimal)expected, FreshTests.AirPct((decimal)gauge, (decimal)correction));
}
