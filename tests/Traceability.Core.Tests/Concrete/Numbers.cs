using System.Globalization;

namespace Traceability.Core.Tests.Concrete;

internal static class Numbers
{
    public static decimal D(string text) => decimal.Parse(text, NumberStyles.Float, CultureInfo.InvariantCulture);

    /// <summary>Numbers parted by spaces or line ends.</summary>
    public static IReadOnlyList<decimal> List(string text) => [.. text.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries).Select(D)];

    public static DateTimeOffset At(string text) => DateTimeOffset.Parse(text, CultureInfo.InvariantCulture);
}
