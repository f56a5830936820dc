using System.Buffers.Binary;
using System.IO.Compression;
using System.Text;

namespace Traceability.Verifier;

/// <summary>
/// A zip file read so that there is one way to read it: the central directory stands at the end, names each entry once and
/// says of it what the entry's own header says, and no byte of the file lies outside of both. Readers that walk the local
/// headers and readers that take the directory then see the same. By the published format description of zip files
/// (ISO/IEC 21320-1 for what a plain one may have: stored or deflated, no encryption, no parts).
/// </summary>
internal sealed class ZipFile : IDisposable
{
    private const uint Local = 0x04034b50, Central = 0x02014b50, End = 0x06054b50, Descriptor = 0x08074b50;
    private const int LocalLength = 30, CentralLength = 46, EndLength = 22;

    // Times and owners of files, as common programs write them. Others could hold a second name or hide content.
    private static readonly ushort[] s_extras = [0x5455, 0x7875, 0x000a, 0x5855];

    private readonly FileStream _file;
    private readonly object _turn = new();

    /// <param name="Data">Where its packed bytes begin.</param>
    internal sealed record Entry(string Name, long Packed, long Size, uint Crc, ushort Method, long Data);

    /// <exception cref="PacketFormException">It is no zip file, damaged, or can be read in more than one way.</exception>
    internal ZipFile(string path)
    {
        Path = path;
        _file = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.Read);
        try
        {
            Entries = ReadAll();
        }
        catch (EndOfStreamException)
        {
            _file.Dispose();
            throw Damaged("it ends too early");
        }
        catch
        {
            _file.Dispose();
            throw;
        }
    }

    internal string Path { get; }

    internal IReadOnlyList<Entry> Entries { get; }

    public void Dispose() => _file.Dispose();

    /// <summary>The unpacked bytes; at their end it is known that they are those the zip file says, and all of them.</summary>
    internal Stream Open(Entry entry) => new Content(this, entry);

    private PacketFormException Damaged(string why) => new($"{Path} is not a whole zip file: {why}. It was damaged on its way or is something else; ask for it again.");

    private PacketFormException Refused(string why) => new($"{Path} is refused: {why}. Programs could see different things in such a zip file.");

    private IReadOnlyList<Entry> ReadAll()
    {
        var end = new byte[EndLength];
        if (_file.Length < EndLength)
        {
            throw Damaged("it is too short");
        }

        At(_file.Length - EndLength, end);
        if (U32(end, 0) != End)
        {
            throw HasEnd() ? Refused("bytes follow the end of its directory, or it has a comment") : Damaged("the directory at its end is missing");
        }

        var (count, length, start) = (U16(end, 10), (long)U32(end, 12), (long)U32(end, 16));
        if (U16(end, 20) != 0)
        {
            throw Refused("it has a comment");
        }

        if (U16(end, 4) != 0 || U16(end, 6) != 0 || U16(end, 8) != count || count == 0xffff || start == 0xffffffff)
        {
            throw Refused("it is a part of several, or of the large form that no packet needs");
        }

        if (start + length != _file.Length - EndLength)
        {
            throw Refused("its directory does not end where the file ends");
        }

        if (count > PacketFiles.MostFiles || length > PacketFiles.MostFiles * 1024L)
        {
            throw new PacketFormException($"{Path} holds more than {PacketFiles.MostFiles} files; that is no packet.");
        }

        var directory = new byte[length];
        At(start, directory);
        var entries = new List<(Entry Entry, long Header, ushort Flags, byte[] Name)>();
        var at = 0;
        for (var i = 0; i < count; i++)
        {
            entries.Add(ReadCentral(directory, ref at));
        }

        if (at != directory.Length)
        {
            throw Refused("its directory holds bytes of no entry");
        }

        // The local entries lie one after the other from the first byte to the directory, without a gap.
        long next = 0;
        var found = new List<Entry>();
        foreach (var (entry, header, flags, name) in entries.OrderBy(e => e.Header))
        {
            if (header != next)
            {
                throw Refused($"{(header < next ? "two entries share bytes" : "bytes lie between its entries")} before {entry.Name}");
            }

            var data = CheckLocal(entry, header, flags, name);
            next = data + entry.Packed + ((flags & 8) == 0 ? 0 : DescriptorLength(entry, data + entry.Packed));
            found.Add(entry with { Data = data });
        }

        if (next != start)
        {
            throw Refused("bytes lie between its last entry and its directory");
        }

        if (found.GroupBy(e => e.Name, StringComparer.OrdinalIgnoreCase).FirstOrDefault(g => g.Count() > 1) is { } twice)
        {
            throw Refused($"it holds {twice.Key} twice; which of them was meant cannot be told");
        }

        return found;
    }

    private (Entry Entry, long Header, ushort Flags, byte[] Name) ReadCentral(byte[] directory, ref int at)
    {
        if (at + CentralLength > directory.Length || U32(directory, at) != Central)
        {
            throw Damaged("its directory cannot be read");
        }

        var record = directory.AsSpan(at);
        var (flags, method, crc, packed, size) = (U16(record, 8), U16(record, 10), U32(record, 16), U32(record, 20), U32(record, 24));
        int nameLength = U16(record, 28), extraLength = U16(record, 30), commentLength = U16(record, 32);
        if (CentralLength + nameLength + extraLength + commentLength > record.Length)
        {
            throw Damaged("its directory cannot be read");
        }

        var raw = record.Slice(CentralLength, nameLength).ToArray();
        if (raw.Length == 0 || raw.Any(b => b is < 0x20 or > 0x7e))
        {
            throw Refused($"an entry's name \"{Encoding.Latin1.GetString(raw)}\" has other characters than a packet's files");
        }

        var name = Encoding.ASCII.GetString(raw);
        if (commentLength != 0 || U16(record, 34) != 0)
        {
            throw Refused($"{name} has a comment, or lies in another part");
        }

        // Bits 1 and 2 tell how well it is packed, 3 that a descriptor follows, 11 that the name is UTF-8.
        if ((flags & ~0x080e) != 0)
        {
            throw Refused($"{name} is encrypted, or packed in a way that this program does not know");
        }

        if (method is not (0 or 8) || (method == 0 && (packed != size || (flags & 8) != 0)))
        {
            throw Refused($"{name} is packed in a way that this program does not know; only stored and deflated files can be read");
        }

        var mode = U32(record, 38) >> 16 & 0xf000;
        if (mode is not (0 or 0x8000 or 0x4000) || (mode == 0x4000) != name.EndsWith('/') && mode != 0)
        {
            throw Refused($"{name} is a link or another thing that is no file");
        }

        CheckExtras(record.Slice(CentralLength + nameLength, extraLength), name);
        at += CentralLength + nameLength + extraLength;
        return (new Entry(name, packed, size, crc, method, 0), U32(record, 42), flags, raw);
    }

    private long CheckLocal(Entry entry, long header, ushort flags, byte[] name)
    {
        var local = new byte[LocalLength];
        At(header, local);
        var extra = new byte[U16(local, 28)];
        var own = new byte[U16(local, 26)];
        if (U32(local, 0) != Local)
        {
            throw Damaged($"the entry {entry.Name} is not where its directory says");
        }

        At(header + LocalLength, own);
        At(header + LocalLength + own.Length, extra);
        CheckExtras(extra, entry.Name);
        // With a descriptor behind the content the header may say nothing of sizes; what it says must be right.
        bool Says(uint said, long meant) => said == meant || ((flags & 8) != 0 && said == 0);
        if (!own.AsSpan().SequenceEqual(name) || U16(local, 6) != flags || U16(local, 8) != entry.Method
            || !Says(U32(local, 14), entry.Crc) || !Says(U32(local, 18), entry.Packed) || !Says(U32(local, 22), entry.Size))
        {
            throw Refused($"the entry {entry.Name} says of itself something else than its directory");
        }

        return header + LocalLength + own.Length + extra.Length;
    }

    private int DescriptorLength(Entry entry, long at)
    {
        var bytes = new byte[16];
        At(at, bytes);
        var signed = U32(bytes, 0) == Descriptor;
        var from = signed ? 4 : 0;
        if (U32(bytes, from) != entry.Crc || U32(bytes, from + 4) != entry.Packed || U32(bytes, from + 8) != entry.Size)
        {
            throw Refused($"the entry {entry.Name} says of itself something else than its directory");
        }

        return from + 12;
    }

    private void CheckExtras(ReadOnlySpan<byte> extra, string name)
    {
        while (extra.Length > 0)
        {
            if (extra.Length < 4 || extra.Length < 4 + U16(extra, 2) || U16(extra, 2) > 64 || !s_extras.Contains(U16(extra, 0)))
            {
                throw Refused($"{name} carries additions that no packet needs");
            }

            extra = extra[(4 + U16(extra, 2))..];
        }
    }

    private bool HasEnd()
    {
        var tail = new byte[Math.Min(_file.Length, 66_000)];
        At(_file.Length - tail.Length, tail);
        return tail.AsSpan().LastIndexOf("PK\u0005\u0006"u8) >= 0;
    }

    private void At(long offset, Span<byte> buffer)
    {
        lock (_turn)
        {
            _file.Position = offset;
            _file.ReadExactly(buffer);
        }
    }

    private static ushort U16(ReadOnlySpan<byte> bytes, int at) => BinaryPrimitives.ReadUInt16LittleEndian(bytes[at..]);

    private static uint U32(ReadOnlySpan<byte> bytes, int at) => BinaryPrimitives.ReadUInt32LittleEndian(bytes[at..]);

    private sealed class Content : ReadOnlyStream
    {
        private static readonly uint[] s_crc = [.. Enumerable.Range(0, 256).Select(n =>
        {
            var c = (uint)n;
            for (var k = 0; k < 8; k++)
            {
                c = (c & 1) != 0 ? 0xedb88320 ^ (c >> 1) : c >> 1;
            }

            return c;
        })];

        private readonly ZipFile _zip;
        private readonly Entry _entry;
        private readonly Packed _packed;
        private readonly Stream _plain;
        private long _read;
        private uint _crc = 0xffffffff;

        internal Content(ZipFile zip, Entry entry)
        {
            (_zip, _entry, _packed) = (zip, entry, new Packed(zip, entry));
            _plain = entry.Method == 0 ? _packed : new DeflateStream(_packed, CompressionMode.Decompress, leaveOpen: true);
        }

        public override int Read(Span<byte> buffer)
        {
            if (buffer.IsEmpty)
            {
                return 0;
            }

            int read;
            try
            {
                read = _plain.Read(buffer);
            }
            catch (InvalidDataException e)
            {
                throw _zip.Damaged($"{_entry.Name} cannot be unpacked ({e.Message})");
            }

            _read += read;
            foreach (var b in buffer[..read])
            {
                _crc = s_crc[(_crc ^ b) & 0xff] ^ (_crc >> 8);
            }

            if (_read > _entry.Size)
            {
                throw _zip.Damaged($"{_entry.Name} has more bytes than it says");
            }

            if (read == 0 && (_read != _entry.Size || ~_crc != _entry.Crc))
            {
                throw _zip.Damaged($"{_entry.Name} has not the bytes it says");
            }

            if (read == 0 && _packed.Left > 0)
            {
                throw _zip.Refused($"bytes lie behind the packed content of {_entry.Name}");
            }

            return read;
        }

        protected override void Dispose(bool disposing)
        {
            if (disposing)
            {
                _plain.Dispose();
            }

            base.Dispose(disposing);
        }
    }

    /// <summary>The packed bytes of an entry, the last of them one by one, so that what the unpacking leaves over is seen.</summary>
    private sealed class Packed(ZipFile zip, Entry entry) : ReadOnlyStream
    {
        private const int Last = 64;

        private long _at;

        internal long Left => entry.Packed - _at;

        public override int Read(Span<byte> buffer)
        {
            var most = (int)Math.Min(buffer.Length, Left > Last ? Left - Last : Math.Min(1, Left));
            zip.At(entry.Data + _at, buffer[..most]);
            _at += most;
            return most;
        }
    }
}
