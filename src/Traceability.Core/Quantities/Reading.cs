using System.Globalization;
using System.Numerics;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Traceability.Core.Quantities;

/// <summary>
/// A quantity exactly as it was read: a decimal string ("0.3817", "-4") or an inch fraction ("1 15/16", "7/8").
/// The unit stands in the name of the field that holds it. The text is what is stored and hashed; the value is what
/// is calculated with. Two readings are equal when their texts are equal.
/// </summary>
[JsonConverter(typeof(ReadingJson))]
public readonly struct Reading : IEquatable<Reading>
{
    /// <summary>Longest accepted text. Longer ones are a typing or parsing mistake, not a measurement.</summary>
    public const int LongestText = 24;

    /// <summary>Most digits before the point and most after it, so that no calculation with readings overflows.</summary>
    public const int MostDigits = 9;

    private Reading(string text, decimal value) => (Text, Value) = (text, value);

    public string Text { get; } = "0";

    public decimal Value { get; }

    public Reading() { }

    /// <exception cref="FormatException">The text is not a decimal or an inch fraction.</exception>
    public static Reading Parse(string text) =>
        TryParse(text, out var reading) ? reading : throw new FormatException(
            $"'{text}' is not a reading: send a decimal string such as \"0.3817\" or an inch fraction such as \"1 15/16\".");

    public static Reading Of(decimal value) => new(value.ToString(CultureInfo.InvariantCulture), value);

    public static bool TryParse(string? text, out Reading reading)
    {
        reading = default;
        if (string.IsNullOrEmpty(text) || text.Length > LongestText) return false;
        var negative = text[0] == '-';
        var body = negative ? text[1..] : text;
        if (!TryMagnitude(body, out var value)) return false;
        reading = new Reading(text, negative ? -value : value);
        return true;
    }

    private static bool TryMagnitude(string body, out decimal value)
    {
        value = 0;
        var slash = body.IndexOf('/', StringComparison.Ordinal);
        if (slash < 0) return TryDecimal(body, out value);
        var space = body.IndexOf(' ', StringComparison.Ordinal);
        var whole = 0m;
        if (space >= 0 && !TryWhole(body[..space], out whole)) return false;
        if (!TryWhole(body[(space + 1)..slash], out var top) || !TryWhole(body[(slash + 1)..], out var bottom)) return false;
        // Tapes are divided in powers of two; anything else would not be exact as a decimal and was not read off a tape.
        if (bottom is < 2 or > 128 || !BitOperations.IsPow2((int)bottom) || top >= bottom) return false;
        value = whole + top / bottom;
        return true;
    }

    // The framework's parser takes trailing NULs for part of a number.
    private static bool TryWhole(string text, out decimal value)
    {
        value = 0;
        return text.Length <= MostDigits && text.All(char.IsAsciiDigit) && decimal.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out value);
    }

    private static bool TryDecimal(string text, out decimal value)
    {
        value = 0;
        var point = text.IndexOf('.', StringComparison.Ordinal);
        var (before, after) = point < 0 ? (text.Length, 0) : (point, text.Length - point - 1);
        return before <= MostDigits && after <= MostDigits && text.Length > 0 && char.IsAsciiDigit(text[0]) && char.IsAsciiDigit(text[^1])
            && decimal.TryParse(text, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out value);
    }

    public bool Equals(Reading other) => string.Equals(Text, other.Text, StringComparison.Ordinal);

    public override bool Equals(object? obj) => obj is Reading other && Equals(other);

    public override int GetHashCode() => Text.GetHashCode(StringComparison.Ordinal);

    public static bool operator ==(Reading left, Reading right) => left.Equals(right);

    public static bool operator !=(Reading left, Reading right) => !left.Equals(right);

    public override string ToString() => Text;
}

internal sealed class ReadingJson : JsonConverter<Reading>
{
    public override Reading Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options)
    {
        if (reader.TokenType != JsonTokenType.String)
            throw new JsonException("a quantity is sent as a decimal string such as \"0.3817\", never as a JSON number");
        var text = reader.GetString();
        return Reading.TryParse(text, out var reading) ? reading : throw new JsonException(
            $"'{text}' is not a decimal string such as \"0.3817\" or an inch fraction such as \"1 15/16\" of at most {Reading.LongestText} characters");
    }

    public override void Write(Utf8JsonWriter writer, Reading value, JsonSerializerOptions options) => writer.WriteStringValue(value.Text);
}
