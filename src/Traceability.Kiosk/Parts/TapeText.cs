using Traceability.Core.Quantities;

namespace Traceability.Kiosk.Parts;

/// <summary>The text of a tape reading as the pad builds it: whole inches, then a fraction, exactly as it was read.</summary>
public static class TapeText
{
    private const decimal MillimetresPerInch = 25.4m;

    /// <summary>The sixteenths of a tape, in lowest terms.</summary>
    public static readonly IReadOnlyList<string> Fractions =
        ["1/16", "1/8", "3/16", "1/4", "5/16", "3/8", "7/16", "1/2", "9/16", "5/8", "11/16", "3/4", "13/16", "7/8", "15/16"];

    public static string WithDigit(string text, char digit)
    {
        var (whole, fraction) = Parts(text);
        return Join(whole == "0" ? digit.ToString() : whole + digit, fraction);
    }

    /// <summary>Puts the fraction in; the same one again takes it out.</summary>
    public static string WithFraction(string text, string fraction)
    {
        var (whole, old) = Parts(text);
        return Join(whole, old == fraction ? "" : fraction);
    }

    /// <summary>Takes the fraction away first, then digit by digit.</summary>
    public static string WithoutLast(string text)
    {
        var (whole, fraction) = Parts(text);
        return fraction.Length > 0 ? whole : whole.Length > 0 ? whole[..^1] : "";
    }

    public static string Fraction(string text) => Parts(text).Fraction;

    /// <summary>The reading in millimetres, to a tenth, for showing beside it; null when it is not a reading.</summary>
    public static string? Millimetres(string text) =>
        Reading.TryParse(text.Trim(), out var reading)
            ? decimal.Round(reading.Value * MillimetresPerInch, 1).ToString("0.0", System.Globalization.CultureInfo.InvariantCulture) + " mm"
            : null;

    private static (string Whole, string Fraction) Parts(string text)
    {
        text = text.Trim();
        if (!text.Contains('/', StringComparison.Ordinal)) return (text, "");
        var space = text.IndexOf(' ', StringComparison.Ordinal);
        return space < 0 ? ("", text) : (text[..space], text[(space + 1)..]);
    }

    private static string Join(string whole, string fraction) =>
        whole.Length == 0 ? fraction : fraction.Length == 0 ? whole : whole + " " + fraction;
}
