using System.Globalization;

namespace Traceability.Core.Records;

/// <summary>Numbers as ECMAScript writes them: Number::toString, as RFC 8785 3.2.2.3 asks (published).</summary>
internal static class EcmaNumber
{
    /// <summary>Bytes enough for any finite binary64: sign, "0.", five zeros and 17 digits are the longest.</summary>
    internal const int MaxLength = 32;

    /// <summary>Writes a finite number as ASCII and returns how many bytes it took.</summary>
    internal static int Format(double value, Span<byte> into)
    {
        if (value == 0)
        {
            // Minus zero too.
            into[0] = (byte)'0';
            return 1;
        }

        // The runtime's round-trip form has the right digits (the shortest that read back as the same binary64,
        // and of those the nearest) but switches to an exponent elsewhere: take digits and scale from it.
        Span<byte> text = stackalloc byte[MaxLength];
        value.TryFormat(text, out var written, "R", CultureInfo.InvariantCulture);
        Span<byte> digits = stackalloc byte[MaxLength];
        var (count, point) = Digits(text[..written], digits);
        digits = digits[..count];

        var at = 0;
        if (value < 0)
        {
            into[at++] = (byte)'-';
        }

        return point switch
        {
            > 0 and <= 21 when count <= point => at + Whole(digits, point, into[at..]),
            > 0 and <= 21 => at + Fixed(digits, point, into[at..]),
            > -6 and <= 0 => at + Small(digits, point, into[at..]),
            _ => at + Exponent(digits, point, into[at..]),
        };
    }

    /// <summary>Significant digits, and where the decimal point stands: the value is 0.digits times 10^point.</summary>
    private static (int Count, int Point) Digits(ReadOnlySpan<byte> text, Span<byte> digits)
    {
        int count = 0, point = 0, exponent = 0;
        var fraction = false;
        for (var i = 0; i < text.Length; i++)
        {
            var b = text[i];
            if (b is >= (byte)'0' and <= (byte)'9')
            {
                var leadingZero = count == 0 && b == '0';
                if (!leadingZero)
                {
                    digits[count++] = b;
                }

                // A digit before the point moves the point right; a zero after the point, before any other, left.
                point += fraction ? (leadingZero ? -1 : 0) : (leadingZero ? 0 : 1);
            }
            else if (b == '.')
            {
                fraction = true;
            }
            else if (b == 'E')
            {
                exponent = int.Parse(text[(i + 1)..], NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture);
                break;
            }
        }

        while (digits[count - 1] == '0')
        {
            count--;
        }

        return (count, point + exponent);
    }

    private static int Whole(ReadOnlySpan<byte> digits, int point, Span<byte> into)
    {
        digits.CopyTo(into);
        into[digits.Length..point].Fill((byte)'0');
        return point;
    }

    private static int Fixed(ReadOnlySpan<byte> digits, int point, Span<byte> into)
    {
        digits[..point].CopyTo(into);
        into[point] = (byte)'.';
        digits[point..].CopyTo(into[(point + 1)..]);
        return digits.Length + 1;
    }

    private static int Small(ReadOnlySpan<byte> digits, int point, Span<byte> into)
    {
        into[0] = (byte)'0';
        into[1] = (byte)'.';
        into.Slice(2, -point).Fill((byte)'0');
        digits.CopyTo(into[(2 - point)..]);
        return 2 - point + digits.Length;
    }

    private static int Exponent(ReadOnlySpan<byte> digits, int point, Span<byte> into)
    {
        var at = 0;
        into[at++] = digits[0];
        if (digits.Length > 1)
        {
            into[at++] = (byte)'.';
            digits[1..].CopyTo(into[at..]);
            at += digits.Length - 1;
        }

        into[at++] = (byte)'e';
        var exponent = point - 1;
        into[at++] = (byte)(exponent < 0 ? '-' : '+');
        Math.Abs(exponent).TryFormat(into[at..], out var written, default, CultureInfo.InvariantCulture);
        return at + written;
    }
}
