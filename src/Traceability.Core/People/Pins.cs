using System.Globalization;

namespace Traceability.Core.People;

/// <summary>
/// Which PINs a person may choose. Common and guessable ones are refused, as NIST SP 800-63B (section 5.1.1.2, memorized secret verifiers) asks for
/// repeated, sequential and expected values. Derived by rule: no list of leaked PINs is kept. The rules are our own choice within that.
/// </summary>
public static class Pins
{
    /// <summary>Digits of a PIN. Our own choice; NIST SP 800-63B asks for six at least where the service chooses.</summary>
    public const int Shortest = 6, Longest = 12;

    // Three keys in a line on a telephone's or a terminal's keypad.
    private static readonly HashSet<string> s_strokes = ["123", "456", "789", "147", "258", "369", "159", "357", "321", "654", "987", "741", "852", "963", "951", "753"];

    private static readonly string[] s_dates6 = ["ddMMyy", "MMddyy", "yyMMdd"], s_dates8 = ["ddMMyyyy", "MMddyyyy", "yyyyMMdd"];

    /// <summary>Why a PIN may not be chosen, as the end of a sentence that begins with its field.</summary>
    /// <returns>Null when it may.</returns>
    public static string? Refusal(string pin)
    {
        if (pin.Length is < Shortest or > Longest || !pin.All(char.IsAsciiDigit)) return $"must have {Shortest} to {Longest} digits";
        if (pin.Distinct().Count() < 3 || IsRepeated(pin)) return "must not repeat the same digits";
        if (IsRun(pin) || (IsRun(pin[..(pin.Length / 2)]) && IsRun(pin[(pin.Length / 2)..])) || IsStrokes(pin)) return "must not count, or be a line of keys";
        return IsDate(pin) ? "must not read as a date" : null;
    }

    private static bool IsRepeated(string pin) =>
        Enumerable.Range(1, pin.Length / 2).Any(n => pin.Length % n == 0 && Enumerable.Range(n, pin.Length - n).All(i => pin[i] == pin[i - n]));

    // One step all along, over nine to zero too: 135791 and 864208 are as expected as 123456.
    private static bool IsRun(string pin) => pin.Length >= 3 && Enumerable.Range(2, pin.Length - 2).All(i => (pin[i] - pin[i - 1] + 10) % 10 == (pin[1] - pin[0] + 10) % 10);

    private static bool IsStrokes(string pin) => pin.Length % 3 == 0 && pin.Chunk(3).All(k => s_strokes.Contains(new string(k)));

    private static bool IsDate(string pin) => pin.Length switch
    {
        6 => DateOnly.TryParseExact(pin, s_dates6, CultureInfo.InvariantCulture, DateTimeStyles.None, out _),
        8 => DateOnly.TryParseExact(pin, s_dates8, CultureInfo.InvariantCulture, DateTimeStyles.None, out var date) && date.Year is >= 1900 and < 2100,
        _ => false,
    };
}
