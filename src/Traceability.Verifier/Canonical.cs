using System.Globalization;
using System.Text;
using System.Text.Json;

namespace Traceability.Verifier;

/// <summary>RFC 8785 (published), written plainly: the text is read, put in order, and written again.</summary>
internal static class Canonical
{
    /// <summary>Whether the bytes are the RFC 8785 form of the text they hold.</summary>
    internal static bool Is(ReadOnlySpan<byte> bytes, JsonElement text)
    {
        try
        {
            var written = new StringBuilder();
            Write(text, written);
            return bytes.SequenceEqual(new UTF8Encoding(false, true).GetBytes(written.ToString()));
        }
        catch (Exception e) when (e is InvalidOperationException or EncoderFallbackException)
        {
            // A lone surrogate has no UTF-8 form.
            return false;
        }
    }

    private static void Write(JsonElement value, StringBuilder to)
    {
        switch (value.ValueKind)
        {
            case JsonValueKind.Object:
                var members = value.EnumerateObject().ToArray();
                Array.Sort(members, (a, b) => string.CompareOrdinal(a.Name, b.Name));
                to.Append('{');
                for (var i = 0; i < members.Length; i++)
                {
                    to.Append(i == 0 ? "" : ",");
                    Text(members[i].Name, to);
                    to.Append(':');
                    Write(members[i].Value, to);
                }

                to.Append('}');
                break;
            case JsonValueKind.Array:
                to.Append('[');
                var first = true;
                foreach (var item in value.EnumerateArray())
                {
                    to.Append(first ? "" : ",");
                    first = false;
                    Write(item, to);
                }

                to.Append(']');
                break;
            case JsonValueKind.String:
                Text(value.GetString()!, to);
                break;
            case JsonValueKind.Number:
                to.Append(Number(value.GetDouble()));
                break;
            default:
                to.Append(value.GetRawText());
                break;
        }
    }

    private static void Text(string text, StringBuilder to)
    {
        to.Append('"');
        foreach (var c in text)
        {
            to.Append(c switch
            {
                '"' => "\\\"",
                '\\' => "\\\\",
                '\b' => "\\b",
                '\t' => "\\t",
                '\n' => "\\n",
                '\f' => "\\f",
                '\r' => "\\r",
                < ' ' => string.Create(CultureInfo.InvariantCulture, $"\\u{(int)c:x4}"),
                _ => c.ToString(),
            });
        }

        to.Append('"');
    }

    /// <summary>ECMAScript's Number::toString, from the runtime's shortest digits.</summary>
    private static string Number(double value)
    {
        if (!double.IsFinite(value))
        {
            throw new InvalidOperationException("Beyond binary64.");
        }

        if (value == 0)
        {
            return "0";
        }

        // d.ddd...E+xxx with as few digits as come back to the same number.
        var scientific = "";
        for (var digits = 0; digits <= 16; digits++)
        {
            scientific = value.ToString($"E{digits}", CultureInfo.InvariantCulture);
            if (double.Parse(scientific, CultureInfo.InvariantCulture) == value)
            {
                break;
            }
        }

        var sign = scientific[0] == '-' ? "-" : "";
        var parts = scientific.TrimStart('-').Split('E');
        var s = parts[0].Replace(".", "", StringComparison.Ordinal);
        var n = int.Parse(parts[1], CultureInfo.InvariantCulture) + 1;
        var k = s.Length;
        if (n >= k && n <= 21)
        {
            return sign + s + new string('0', n - k);
        }

        if (n > 0 && n <= 21)
        {
            return sign + s[..n] + "." + s[n..];
        }

        if (n > -6 && n <= 0)
        {
            return sign + "0." + new string('0', -n) + s;
        }

        var exponent = (n > 0 ? "e+" : "e-") + Math.Abs(n - 1).ToString(CultureInfo.InvariantCulture);
        return sign + (k == 1 ? s : s[..1] + "." + s[1..]) + exponent;
    }
}
