using Traceability.Core.Quantities;

namespace Traceability.Core.Tests.Quantities;

public sealed class ReadingTests
{
    [Theory]
    [InlineData("1 15/16", "1.9375")]
    [InlineData("7/8", "0.875")]
    [InlineData("0.3817", "0.3817")]
    [InlineData("-4", "-4")]
    [InlineData("999999999.999999999", "999999999.999999999")]
    public void A_reading_keeps_its_text_and_knows_its_value(string text, string value)
    {
        var reading = Reading.Parse(text);
        Assert.Equal(text, reading.Text);
        Assert.Equal(decimal.Parse(value, System.Globalization.CultureInfo.InvariantCulture), reading.Value);
    }

    [Theory]
    [InlineData("1/3")]
    [InlineData("9/8")]
    [InlineData("1e3")]
    [InlineData(".5")]
    [InlineData("5.")]
    [InlineData("1,000")]
    [InlineData("1000000000")]
    [InlineData("0.1234567891")]
    [InlineData("1000000000 1/2")]
    public void What_no_tape_or_gauge_shows_is_no_reading(string text) => Assert.False(Reading.TryParse(text, out _));

    [Fact]
    public void Products_and_quotients_of_the_largest_and_smallest_readings_do_not_overflow()
    {
        var (large, small) = (Reading.Parse("999999999.999999999").Value, Reading.Parse("0.000000001").Value);
        Assert.True(large * large / small > large);
    }
}
