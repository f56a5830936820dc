using System.Buffers;
using System.Globalization;
using System.Text;
using System.Text.Json;
using System.Text.Unicode;

namespace Traceability.Core.Records;

/// <summary>
/// A JSON text that has no canonical form. <see cref="Path"/> says where, in the manner of JSONPath
/// (<c>$.data.rows[3].coverIn</c>); the message names it too.
/// </summary>
public sealed class CanonicalJsonException : Exception
{
    internal CanonicalJsonException(string path, string reason, Exception? inner = null)
        : base($"No canonical form at {path}: {reason}", inner)
    {
        Path = path;
        Reason = reason;
    }

    /// <summary>Where in the JSON text the fault was met; <c>$</c> is the whole text.</summary>
    public string Path { get; }

    /// <summary>What is wrong there, in one sentence without the path.</summary>
    public string Reason { get; }
}

/// <summary>
/// The one byte form of a JSON text: RFC 8785, JSON Canonicalization Scheme (published, June 2020).
/// Hashes and Merkle leaves are taken over these bytes, so this form may not change.
/// </summary>
public static class CanonicalJson
{
    /// <summary>How deep arrays and objects may nest.</summary>
    public const int MaxDepth = 64;

    /// <summary>
    /// Canonical UTF-8 bytes of a JSON text: no white space, members in order of their names' UTF-16 units
    /// (RFC 8785 3.2.3), numbers as ECMAScript writes the nearest binary64 (3.2.2.3), the fewest escapes (3.2.2.2).
    /// A canonical text comes back unchanged.
    /// </summary>
    /// <param name="utf8Json">One JSON text in UTF-8 without a byte order mark; white space around it is dropped.</param>
    /// <exception cref="CanonicalJsonException">
    /// Not JSON, anything after the text, invalid UTF-8, a lone surrogate, a name used twice in one object,
    /// a number beyond binary64, or nesting deeper than <see cref="MaxDepth"/>.
    /// </exception>
    public static byte[] Canonicalize(ReadOnlySpan<byte> utf8Json)
    {
        if (!Utf8.IsValid(utf8Json))
        {
            throw new CanonicalJsonException("$", "The bytes are not valid UTF-8.");
        }

        var writer = new Writer(utf8Json.Length);
        try
        {
            return writer.Run(utf8Json);
        }
        finally
        {
            writer.Release();
        }
    }

    /// <summary>Whether the bytes are already their own canonical form.</summary>
    public static bool IsCanonical(ReadOnlySpan<byte> utf8Json)
    {
        try
        {
            return utf8Json.SequenceEqual(Canonicalize(utf8Json));
        }
        catch (CanonicalJsonException)
        {
            return false;
        }
    }

    /// <summary>Order of two names by UTF-16 units, read from their UTF-8 bytes.</summary>
    private static int CompareNames(ReadOnlySpan<byte> a, ReadOnlySpan<byte> b)
    {
        var same = a.CommonPrefixLength(b);
        if (same == a.Length || same == b.Length)
        {
            return a.Length - b.Length;
        }

        int x = a[same], y = b[same];

        // UTF-8 sorts by code point. UTF-16 differs in one place only: a character above U+FFFF (lead byte F0 and up)
        // begins with a surrogate, D800 to DBFF, and so comes before U+E000 to U+FFFF (lead bytes EE and EF).
        if (x >= 0xEE && y >= 0xEE && (x >= 0xF0) != (y >= 0xF0))
        {
            return x >= 0xF0 ? -1 : 1;
        }

        return x - y;
    }

    /// <summary>A member already written: its name in the name buffer, its <c>"name":value</c> in the output.</summary>
    private struct Member
    {
        public int NameStart, NameLength, Start, End;
    }

    /// <summary>An open object or array.</summary>
    private struct Frame
    {
        public bool IsObject, Unsorted;
        public int Start, FirstMember, FirstName, Count;
    }

    private sealed class ByName(byte[] names) : IComparer<Member>
    {
        public int Compare(Member x, Member y) => CompareNames(
            names.AsSpan(x.NameStart, x.NameLength), names.AsSpan(y.NameStart, y.NameLength));
    }

    /// <summary>
    /// Writes values as they are read and, where an object's members arrive out of order, moves the written
    /// segments when the object closes: no tree, and nothing allocated but the result.
    /// </summary>
    private struct Writer(int inputLength)
    {
        private const int FewMembers = 24;

        private byte[] _out = ArrayPool<byte>.Shared.Rent(inputLength + 64);
        private byte[] _names = ArrayPool<byte>.Shared.Rent(512);
        private Member[] _members = ArrayPool<Member>.Shared.Rent(64);
        private Frame[] _frames = ArrayPool<Frame>.Shared.Rent(MaxDepth);
        private int _length, _namesLength, _memberCount, _depth;

        public readonly void Release()
        {
            ArrayPool<byte>.Shared.Return(_out);
            ArrayPool<byte>.Shared.Return(_names);
            ArrayPool<Member>.Shared.Return(_members);
            ArrayPool<Frame>.Shared.Return(_frames);
        }

        public byte[] Run(ReadOnlySpan<byte> utf8Json)
        {
            var reader = new Utf8JsonReader(utf8Json, new JsonReaderOptions { MaxDepth = MaxDepth });
            try
            {
                while (reader.Read())
                {
                    Token(ref reader);
                }
            }
            catch (JsonException e)
            {
                throw new CanonicalJsonException(Path(), e.Message, e);
            }

            return _out.AsSpan(0, _length).ToArray();
        }

        private void Token(ref Utf8JsonReader reader)
        {
            switch (reader.TokenType)
            {
                case JsonTokenType.PropertyName:
                    Name(ref reader);
                    return;
                case JsonTokenType.EndObject:
                    CloseObject();
                    EndValue();
                    return;
                case JsonTokenType.EndArray:
                    _depth--;
                    Put((byte)']');
                    EndValue();
                    return;
            }

            StartElement();
            switch (reader.TokenType)
            {
                case JsonTokenType.StartObject:
                case JsonTokenType.StartArray:
                    Open(reader.TokenType == JsonTokenType.StartObject);
                    return;
                case JsonTokenType.String:
                    Text(ref reader);
                    break;
                case JsonTokenType.Number:
                    Number(reader.ValueSpan);
                    break;
                default:
                    Put(reader.ValueSpan);
                    break;
            }

            EndValue();
        }

        private void Open(bool isObject)
        {
            Put(isObject ? (byte)'{' : (byte)'[');
            _frames[_depth++] = new Frame
            {
                IsObject = isObject,
                Start = _length,
                FirstMember = _memberCount,
                FirstName = _namesLength,
            };
        }

        /// <summary>Comma before every element of an array but the first. Members get theirs with their name.</summary>
        private void StartElement()
        {
            if (_depth > 0 && !_frames[_depth - 1].IsObject && _frames[_depth - 1].Count++ > 0)
            {
                Put((byte)',');
            }
        }

        private readonly void EndValue()
        {
            if (_depth > 0 && _frames[_depth - 1].IsObject)
            {
                _members[_memberCount - 1].End = _length;
            }
        }

        private void Name(ref Utf8JsonReader reader)
        {
            ref var frame = ref _frames[_depth - 1];
            if (frame.Count++ > 0)
            {
                Put((byte)',');
            }

            var raw = reader.ValueSpan;
            GrowNames(raw.Length);
            var length = raw.Length;
            if (reader.ValueIsEscaped)
            {
                length = Unescape(ref reader, _names.AsSpan(_namesLength));
            }
            else
            {
                raw.CopyTo(_names.AsSpan(_namesLength));
            }

            if (_memberCount == _members.Length)
            {
                _members = Grow(_members, _memberCount, _memberCount + 1);
            }

            var name = _names.AsSpan(_namesLength, length);
            var first = _memberCount == frame.FirstMember;
            _members[_memberCount] = new Member { NameStart = _namesLength, NameLength = length, Start = _length };
            _memberCount++;
            _namesLength += length;
            if (!first)
            {
                var before = _members[_memberCount - 2];
                var order = CompareNames(_names.AsSpan(before.NameStart, before.NameLength), name);
                if (order == 0)
                {
                    throw Duplicate();
                }

                frame.Unsorted |= order > 0;
            }

            Quoted(name, mayNeedEscapes: reader.ValueIsEscaped);
            Put((byte)':');
        }

        private readonly CanonicalJsonException Duplicate() =>
            new(Path(), "The name is used more than once in its object.");

        private void CloseObject()
        {
            var frame = _frames[_depth - 1];
            if (frame.Unsorted)
            {
                Reorder(frame);
            }

            _depth--;
            _memberCount = frame.FirstMember;
            _namesLength = frame.FirstName;
            Put((byte)'}');
        }

        private void Reorder(Frame frame)
        {
            var count = _memberCount - frame.FirstMember;
            Sort(frame.FirstMember, count);
            for (var i = frame.FirstMember + 1; i < _memberCount; i++)
            {
                if (NameOf(i - 1).SequenceEqual(NameOf(i)))
                {
                    // The path names the last member of the object; let that be the one used twice.
                    _members[_memberCount - 1] = _members[i];
                    throw Duplicate();
                }
            }

            var size = _length - frame.Start;
            var copy = ArrayPool<byte>.Shared.Rent(size);
            _out.AsSpan(frame.Start, size).CopyTo(copy);
            var at = frame.Start;
            for (var i = frame.FirstMember; i < _memberCount; i++)
            {
                if (i > frame.FirstMember)
                {
                    _out[at++] = (byte)',';
                }

                var member = _members[i];
                var segment = copy.AsSpan(member.Start - frame.Start, member.End - member.Start);
                segment.CopyTo(_out.AsSpan(at));
                at += segment.Length;
            }

            ArrayPool<byte>.Shared.Return(copy);
        }

        private readonly ReadOnlySpan<byte> NameOf(int member) =>
            _names.AsSpan(_members[member].NameStart, _members[member].NameLength);

        private readonly void Sort(int first, int count)
        {
            // Facts have a handful of members, mostly in order: insertion needs no comparer object. A hostile
            // object with many members must not cost the square of their number.
            if (count > FewMembers)
            {
                Array.Sort(_members, first, count, new ByName(_names));
                return;
            }

            for (var i = first + 1; i < first + count; i++)
            {
                var member = _members[i];
                var j = i;
                while (j > first && CompareNames(
                    NameOf(j - 1), _names.AsSpan(member.NameStart, member.NameLength)) > 0)
                {
                    _members[j] = _members[j - 1];
                    j--;
                }

                _members[j] = member;
            }
        }

        private void Text(ref Utf8JsonReader reader)
        {
            if (!reader.ValueIsEscaped)
            {
                Quoted(reader.ValueSpan, mayNeedEscapes: false);
                return;
            }

            var scratch = ArrayPool<byte>.Shared.Rent(reader.ValueSpan.Length);
            try
            {
                Quoted(scratch.AsSpan(0, Unescape(ref reader, scratch)), mayNeedEscapes: true);
            }
            finally
            {
                ArrayPool<byte>.Shared.Return(scratch);
            }
        }

        private readonly int Unescape(ref Utf8JsonReader reader, Span<byte> into)
        {
            try
            {
                return reader.CopyString(into);
            }
            catch (InvalidOperationException e)
            {
                throw new CanonicalJsonException(Path(), "The text escapes a surrogate without its other half.", e);
            }
        }

        /// <summary>
        /// A string. One that came without escapes needs none: the reader admits neither a quote, a backslash nor a
        /// control character unescaped.
        /// </summary>
        private void Quoted(ReadOnlySpan<byte> text, bool mayNeedEscapes)
        {
            Put((byte)'"');
            if (!mayNeedEscapes)
            {
                Put(text);
            }
            else
            {
                Escaped(text);
            }

            Put((byte)'"');
        }

        private void Escaped(ReadOnlySpan<byte> text)
        {
            GrowOut(text.Length * 6);
            foreach (var b in text)
            {
                var escape = b switch
                {
                    (byte)'"' => (byte)'"',
                    (byte)'\\' => (byte)'\\',
                    8 => (byte)'b',
                    9 => (byte)'t',
                    10 => (byte)'n',
                    12 => (byte)'f',
                    13 => (byte)'r',
                    < 0x20 => (byte)'u',
                    _ => (byte)0,
                };
                if (escape == 0)
                {
                    _out[_length++] = b;
                    continue;
                }

                _out[_length++] = (byte)'\\';
                _out[_length++] = escape;
                if (escape == 'u')
                {
                    _out[_length++] = (byte)'0';
                    _out[_length++] = (byte)'0';
                    _out[_length++] = (byte)(b < 16 ? '0' : '1');
                    _out[_length++] = (byte)"0123456789abcdef"[b & 15];
                }
            }
        }

        private void Number(ReadOnlySpan<byte> token)
        {
            // A whole number of up to 15 digits is exact in binary64 and already in its shortest form.
            if (token.Length <= 15 && token.IndexOfAnyExceptInRange((byte)'0', (byte)'9') < 0)
            {
                Put(token);
                return;
            }

            var value = double.Parse(token, NumberStyles.Float, CultureInfo.InvariantCulture);
            if (!double.IsFinite(value))
            {
                throw new CanonicalJsonException(Path(), $"The number {Encoding.UTF8.GetString(token)} is beyond binary64.");
            }

            GrowOut(EcmaNumber.MaxLength);
            _length += EcmaNumber.Format(value, _out.AsSpan(_length));
        }

        private void Put(byte b)
        {
            if (_length == _out.Length)
            {
                GrowOut(1);
            }

            _out[_length++] = b;
        }

        private void Put(ReadOnlySpan<byte> bytes)
        {
            GrowOut(bytes.Length);
            bytes.CopyTo(_out.AsSpan(_length));
            _length += bytes.Length;
        }

        private void GrowOut(int by)
        {
            if (_length + by > _out.Length)
            {
                _out = Grow(_out, _length, _length + by);
            }
        }

        private void GrowNames(int by)
        {
            if (_namesLength + by > _names.Length)
            {
                _names = Grow(_names, _namesLength, _namesLength + by);
            }
        }

        private static T[] Grow<T>(T[] old, int used, int wanted)
        {
            var larger = ArrayPool<T>.Shared.Rent(Math.Max(wanted, old.Length * 2));
            old.AsSpan(0, used).CopyTo(larger);
            ArrayPool<T>.Shared.Return(old);
            return larger;
        }

        /// <summary>Where the reader stands, from the open objects' last names and the open arrays' counts.</summary>
        private readonly string Path()
        {
            var path = new StringBuilder("$");
            for (var d = 0; d < _depth; d++)
            {
                var frame = _frames[d];
                if (!frame.IsObject)
                {
                    path.Append(CultureInfo.InvariantCulture, $"[{Math.Max(0, frame.Count - 1)}]");
                    continue;
                }

                var last = (d + 1 < _depth ? _frames[d + 1].FirstMember : _memberCount) - 1;
                if (last < frame.FirstMember)
                {
                    continue;
                }

                var name = Encoding.UTF8.GetString(NameOf(last));
                path.Append(name.Length > 0 && name.All(c => char.IsAsciiLetterOrDigit(c) || c == '_')
                    ? $".{name}"
                    : $"['{name}']");
            }

            return path.ToString();
        }
    }
}
