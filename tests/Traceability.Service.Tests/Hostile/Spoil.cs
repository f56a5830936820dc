using System.Buffers.Binary;
using System.Globalization;
using System.Text;
using System.Text.Json;

namespace Traceability.Service.Tests.Hostile;

/// <summary>Ways to spoil an input: bytes, texts, and JSON by its members.</summary>
internal static class Spoil
{
    // What texts are confused by: NUL and control characters, what turns the direction of writing, what is not seen, look-alikes, digits of other scripts, marks.
    private static readonly string[] s_bits =
    [
        "\0", "\u0001", "\u001b[2J", "\u007f", "\u0085", "\u00a0", "\u00ad", "\u200b", "\u200f", "\u202e", "\u2066", "\u2028", "\ufeff", "\ufffd", "\uffff", "\u0430", "\u0391", "\u2011", "\u2044", "\uff11", "\u0661",
        "e\u0301", "\u0301", "\ud83d\ude02", "\ud800", "\udc00", "\n", "\r\n", "\t", " ", "'", "\"", "\\", "/", "..", "../", "%00", "%2e", "${x}", "{0}", "<b>", ";--", "@", ":", "+", ",", "=", "-", "\u2014",
    ];

    private static readonly string[] s_values =
    [
        "null", "true", "false", "\"\"", "\" \"", "0", "-0", "-1", "1e400", "-1e400", "1E-400", "1e5", "0.1", "9007199254740991", "9007199254740993", "9223372036854775807", "9223372036854775808", "123456789012345678901234567890",
        "[]", "{}", "[[]]", "[null]", "[{}]", "{\"\":null}", "{\"x\":{\"x\":1},\"x\":2}", "\"\\u0000\"", "\"\\ud800\"", "\"\\udc00\\ud800\"", "\"a\\ud800b\"", "\"\\u202e\"", "\"\\uff11\\uff12\"", "\"\\u0430\"", "\"x\\n\"", "\"\\u001b[2J\"",
        "NaN", "Infinity", "-", "01", "1.", ".5", "+1", "0x10", "'x'", "\"\\x41\"", "\"\\u12\"", "\"unterminated", "/*c*/1", "1//c\n", "tru", "undefined", "\"NaN\"", "\"-0\"", "\"0\"", "\"00\"", "\"1/0\"", "\"0/8\"", "\"1 1/16\"", "\"9/8\"", "\"127/128\"",
        "\"999999999\"", "\"1000000000\"", "\"0.999999999\"", "\"1e3\"", "\" 1\"", "\"1 \"", "\"+1\"", "\"-1\"", "\"1,5\"", "\"90.000000001\"", "\"2026-02-30\"", "\"2026-02-30T00:00:00Z\"", "\"2199-12-31T23:59:59-14:00\"", "\"1970-01-01T00:00:00+14:00\"",
        "\"2026-03-02T09:30:60Z\"", "\"2026-03-02T09:30:00\"", "\"9999-12-31T23:59:59Z\"", "\"0001-01-01T00:00:00Z\"", "\"2026-03-02t09:30:00.12345678901234567890z\"", "\"00000000-0000-0000-0000-000000000000\"", "\"{6f0f4f4e-1c8e-5a57-9a0b-3f6b1f0a7c11}\"",
        "\"unit:RF-0001\"", "\"record:x\"", "\"/service/decisions\"", "\"../../etc/passwd\"", "\"$ref\"", "\"a/b\"", "\"a//b\"",
    ];

    private static readonly string[] s_names = ["", "x", "id", "type", "data", "source", "subject", "__proto__", "$type", "$ref", "Id", "ID", "unit", "unıt", "\\u0000", "\\ud800", "person", "extra", "traceparent", "a b"];

    private static readonly uint[] s_edges = [0, 1, 2, 0x7f, 0x80, 0xff, 0x100, 0x7fff, 0x8000, 0xfffe, 0xffff, 0x10000, 0x7fffffff, 0x80000000, 0xfffffffe, 0xffffffff];

    /// <summary>One to four changes of bytes.</summary>
    public static byte[] Bytes(Attempt a, byte[] right, byte[]? other = null)
    {
        var bytes = right;
        for (var changes = 1 + a.Below(4); changes > 0; changes--) bytes = Byte(a, bytes, other ?? right);
        return bytes;
    }

    private static byte[] Byte(Attempt a, byte[] from, byte[] other)
    {
        if (from.Length == 0) return [(byte)a.Below(256)];
        var at = a.Below(from.Length);
        var length = Math.Min(from.Length - at, 1 + a.Below(a.OneIn(4) ? from.Length : 16));
        switch (a.Below(10))
        {
            case 0 or 1:
                var flipped = (byte[])from.Clone();
                flipped[at] ^= (byte)(1 << a.Below(8));
                return flipped;
            case 2:
                var set = (byte[])from.Clone();
                set[at] = (byte)a.Below(256);
                return set;
            case 3:
                return from[..at];
            case 4:
                return [.. from[..at], .. from[(at + length)..]];
            case 5:
                return [.. from[..(at + length)], .. from[at..]];
            case 6:
                return [.. from[..at], .. Encoding.UTF8.GetBytes(a.Of(s_bits)), .. from[at..]];
            case 7:
                var start = a.Below(Math.Max(1, other.Length));
                return [.. from[..at], .. other[start..Math.Min(other.Length, start + length)], .. from[(a.OneIn(2) ? at : at + length)..]];
            case 8:
                var number = (byte[])from.Clone();
                var value = a.Of(s_edges);
                if (at + 4 <= from.Length && a.OneIn(2)) BinaryPrimitives.WriteUInt32LittleEndian(number.AsSpan(at), value);
                else if (at + 2 <= from.Length) BinaryPrimitives.WriteUInt16LittleEndian(number.AsSpan(at), (ushort)value);
                return number;
            default:
                var random = new byte[length];
                a.Random.NextBytes(random);
                return [.. from[..at], .. random, .. from[(at + length)..]];
        }
    }

    /// <summary>A text that is not the one given.</summary>
    public static string Text(Attempt a, string right)
    {
        while (true)
        {
            var at = a.Below(right.Length + 1);
            var changed = a.Below(9) switch
            {
                0 => right.Insert(at, a.Of(s_bits)),
                1 => right.Length > 0 ? right[..Math.Min(at, right.Length - 1)] + (char)(right[Math.Min(at, right.Length - 1)] ^ (1 << a.Below(7))) + right[(Math.Min(at, right.Length - 1) + 1)..] : "x",
                2 => right[..at],
                3 => right + right,
                4 => right.ToUpperInvariant() == right ? right.ToLowerInvariant() : right.ToUpperInvariant(),
                5 => new string([.. right.Select(c => c is > ' ' and <= '~' && a.OneIn(3) ? (char)(c + 0xfee0) : c)]),
                6 => "",
                7 => new string((char)a.Below(0x250), a.OneIn(50) ? 20_000 : 1 + a.Below(300)),
                _ => a.Of(s_bits) + right,
            };
            if (changed != right) return changed;
        }
    }

    /// <summary>A JSON text with one to three of its values or names spoilt; now and then its bytes.</summary>
    public static byte[] Json(Attempt a, byte[] right, byte[]? other = null)
    {
        if (a.OneIn(8)) return Bytes(a, right, other);
        var json = right;
        for (var changes = 1 + a.Below(a.OneIn(3) ? 3 : 1); changes > 0; changes--)
        {
            var parts = Parts(json);
            if (parts.Count == 0) return json;
            json = Member(a, json, parts, other ?? right);
        }

        return a.OneIn(40) ? Bytes(a, json, other) : json;
    }

    private static byte[] Member(Attempt a, byte[] json, List<Part> parts, byte[] other)
    {
        var part = parts[a.Below(parts.Count)];
        byte[] Put(int start, int end, byte[] bytes) => [.. json[..start], .. bytes, .. json[end..]];
        byte[] value = json[part.Start..part.End];
        var from = part.Name < 0 ? part.Start : part.Name;
        switch (a.Below(11))
        {
            case 0 or 1 or 2:
                return Put(part.Start, part.End, Value(a));
            case 3 when value is [(byte)'"', .., (byte)'"']:
                // What is escaped stays so, and what is random is written as it is: both readers of escapes and of bytes are tried.
                var text = Encoding.UTF8.GetString(value[1..^1]);
                var changed = Text(a, text);
                return Put(part.Start, part.End, a.OneIn(2) ? JsonSerializer.SerializeToUtf8Bytes(Whole(changed)) : Encoding.UTF8.GetBytes("\"" + changed + "\""));
            case 3 or 4 when part.Name >= 0:
                return Put(part.Name, json.AsSpan(part.Name + 1).IndexOf((byte)'"') + part.Name + 2, Encoding.UTF8.GetBytes($"\"{a.Of(s_names)}\""));
            case 5:
                return Put(part.End, part.End, [(byte)',', .. json[from..part.End]]);
            case 6:
                var comma = part.End < json.Length && json[part.End] == ',' && !a.OneIn(6) ? 1 : 0;
                return Put(from, part.End + comma, []);
            case 7:
                var deep = a.OneIn(20) ? 20_000 : a.Of((int[])[1, 2, 28, 31, 32, 33, 61, 63, 64, 65, 257, 1000]);
                var (open, close) = a.OneIn(2) ? ("[", "]") : ("{\"x\":", "}");
                return Put(part.Start, part.End, [.. Encoding.ASCII.GetBytes(string.Concat(Enumerable.Repeat(open, deep))), .. value, .. Encoding.ASCII.GetBytes(string.Concat(Enumerable.Repeat(close, deep)))]);
            case 8:
                var source = a.OneIn(2) ? json : other;
                var others = source == json ? parts : Parts(source);
                if (others.Count == 0) return Bytes(a, json);
                var one = others[a.Below(others.Count)];
                return Put(part.Start, part.End, source[one.Start..one.End]);
            case 9 when part.Name >= 0:
                return Put(part.Name, part.Name, [.. Encoding.UTF8.GetBytes($"\"{a.Of(s_names)}\":"), .. Value(a), (byte)',']);
            default:
                var blank = a.Of((string[])[" ", "\n", "\t", "\r", "\u00a0", "\ufeff", ",", ":", "}", "]", "/**/", "\0"]);
                return a.OneIn(3) ? [.. Encoding.UTF8.GetBytes(blank), .. json] : a.OneIn(2) ? [.. json, .. Encoding.UTF8.GetBytes(blank)] : Put(part.Start, part.Start, Encoding.UTF8.GetBytes(blank));
        }
    }

    private static byte[] Value(Attempt a) => a.Below(24) switch
    {
        0 => JsonSerializer.SerializeToUtf8Bytes(new string('x', a.OneIn(30) ? 300_000 : a.Of((int[])[39, 40, 41, 119, 120, 121, 199, 200, 201, 2001]))),
        1 => Encoding.ASCII.GetBytes(new string('9', a.OneIn(30) ? 50_000 : 1 + a.Below(400))),
        2 => Encoding.ASCII.GetBytes("[" + string.Join(',', Enumerable.Repeat("1", a.Of((int[])[399, 400, 401, 5000]))) + "]"),
        3 => Encoding.ASCII.GetBytes("{" + string.Join(',', Enumerable.Range(0, a.OneIn(20) ? 20_000 : a.Below(60)).Select(i => $"\"m{a.Below(50) + i}\":{i}")) + "}"),
        4 => JsonSerializer.SerializeToUtf8Bytes(Whole(string.Concat(Enumerable.Range(0, 1 + a.Below(5)).Select(_ => a.Of(s_bits))))),
        5 => JsonSerializer.SerializeToUtf8Bytes((a.Random.NextDouble() * Math.Pow(10, a.Below(20) - 6)).ToString("0.#########", CultureInfo.InvariantCulture)),
        6 => [0xff, 0xfe],
        7 => [(byte)'"', 0xc0, 0x80, (byte)'"'],
        8 => [(byte)'"', 0xed, 0xa0, 0x80, (byte)'"'],
        _ => Encoding.UTF8.GetBytes(a.Of(s_values)),
    };

    // A text without halves of surrogate pairs, which the serializer would not take.
    private static string Whole(string text) => Encoding.UTF8.GetString(Encoding.UTF8.GetBytes(text));

    /// <summary>A value, and where its name begins; -1 where it has none.</summary>
    private readonly record struct Part(int Start, int End, int Name);

    private static List<Part> Parts(byte[] json)
    {
        var found = new List<Part>();
        var open = new Stack<(int Start, int Name)>();
        var reader = new Utf8JsonReader(json, new JsonReaderOptions { MaxDepth = 100_000 });
        var name = -1;
        try
        {
            while (reader.Read())
            {
                switch (reader.TokenType)
                {
                    case JsonTokenType.PropertyName:
                        name = (int)reader.TokenStartIndex;
                        continue;
                    case JsonTokenType.StartObject or JsonTokenType.StartArray:
                        open.Push(((int)reader.TokenStartIndex, name));
                        break;
                    case JsonTokenType.EndObject or JsonTokenType.EndArray:
                        var (start, own) = open.Pop();
                        found.Add(new(start, (int)reader.BytesConsumed, own));
                        break;
                    default:
                        found.Add(new((int)reader.TokenStartIndex, (int)reader.BytesConsumed, name));
                        break;
                }

                name = -1;
            }
        }
        catch (JsonException)
        {
            // Spoilt already: what stands before the fault can be spoilt further.
        }

        return found;
    }
}
