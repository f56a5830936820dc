using Traceability.Core.People;

namespace Traceability.Core.Tests.People;

/// <summary>Which PINs may be chosen. What is refused follows NIST SP 800-63B, section 5.1.1.2 (repetitive, sequential, expected); the rules are our own.</summary>
public sealed class PinsTests
{
    [Theory]
    [InlineData("000000", "repeat")]
    [InlineData("121212", "repeat")]
    [InlineData("112211", "repeat")]
    [InlineData("123123", "repeat")]
    [InlineData("7391739173917391", "digits")]
    [InlineData("739173917391", "repeat")]
    [InlineData("123456", "count")]
    [InlineData("987654", "count")]
    [InlineData("890123", "count")]
    [InlineData("135791", "count")]
    [InlineData("123321", "count")]
    [InlineData("147258", "line")]
    [InlineData("159357", "line")]
    [InlineData("789456123", "line")]
    [InlineData("311299", "date")]
    [InlineData("123199", "date")]
    [InlineData("991231", "date")]
    [InlineData("24121985", "date")]
    [InlineData("19851224", "date")]
    [InlineData("12345", "digits")]
    [InlineData("12345a", "digits")]
    public void Expected_ones_are_refused(string pin, string why) => Assert.Contains(why, Pins.Refusal(pin), StringComparison.Ordinal);

    [Theory]
    [InlineData("314159")]
    [InlineData("31415926")]
    [InlineData("739471")]
    [InlineData("850274")]
    public void Others_are_taken(string pin) => Assert.Null(Pins.Refusal(pin));

    [Fact]
    public void Of_a_million_six_digit_ones_nearly_nine_in_ten_or_more_are_left()
    {
        var left = Enumerable.Range(0, 1_000_000).Count(n => Pins.Refusal(n.ToString("D6", System.Globalization.CultureInfo.InvariantCulture)) is null);
        Assert.InRange(left, 880_000, 960_000);
    }
}
