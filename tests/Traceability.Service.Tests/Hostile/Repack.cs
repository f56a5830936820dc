using System.IO.Compression;
using System.Text;

namespace Traceability.Service.Tests.Hostile;

/// <summary>Zip files written by hand, in which each header may lie.</summary>
internal static class Repack
{
    private sealed class Entry(string name, byte[] content)
    {
        public byte[] Name = Encoding.UTF8.GetBytes(name), LocalName = Encoding.UTF8.GetBytes(name), Extra = [], LocalExtra = [], Comment = [], Gap = [];
        public byte[] Packed = content;
        public uint Crc, LocalCrc, PackedSize, LocalPackedSize, Size, LocalSize, Attributes;
        public ushort Method, LocalMethod, Flags, LocalFlags, Disk;
        public long? Offset;
        public bool Described;
        public readonly byte[] Content = content;
    }

    private static readonly string[] s_names =
    [
        "", "../packet.pdf", "/packet.pdf", "..\\packet.pdf", "C:packet.pdf", "a/../../packet.pdf", "./packet.pdf", "packet.pdf/", "PACKET.PDF", "packet.pdf ", "packet.pdf.", "packet.pdf\0.txt", "packet.pdf\u202e", "p\u0430cket.pdf", "records.jsonl", "Records.jsonl",
        "manifest.json", "packet-1.pdf", "packet-0.pdf", "packet-01.pdf", "letter.txt", "CON", "aux.json", "con.pdf", "x/packet.pdf", "x//packet.pdf", "~/packet.pdf", "%2e%2e/packet.pdf", "succession.txt", "__MACOSX/packet.pdf", "a\nProved: b",
    ];

    private static readonly ushort[] s_extras = [0x5455, 0x7875, 0x000a, 0x0001, 0x7075, 0x6375, 0x0017, 0x9901, 0xcafe];

    /// <summary>A plain zip file.</summary>
    public static byte[] Plain(Attempt a, IReadOnlyDictionary<string, byte[]> files)
    {
        var folder = a.OneIn(3) ? "packet/" : "";
        return Write(files.Select(f => Ready(folder + f.Key, f.Value, a.OneIn(2), a.OneIn(4))).ToList(), null, a);
    }

    /// <summary>A zip file with one to three lies.</summary>
    public static byte[] Lying(Attempt a, IReadOnlyDictionary<string, byte[]> files)
    {
        var entries = files.Select(f => Ready(f.Key, f.Value, a.OneIn(2), a.OneIn(6))).ToList();
        for (var lies = 1 + a.Below(3); lies > 0; lies--) Lie(a, entries);
        var bytes = Write(entries, a.OneIn(4) ? a : null, a);
        return a.OneIn(6) ? Spoil.Bytes(a, bytes) : bytes;
    }

    private static Entry Ready(string name, byte[] content, bool deflated, bool described)
    {
        var entry = new Entry(name, content) { Described = described && deflated };
        if (deflated)
        {
            using var packed = new MemoryStream();
            using (var deflate = new DeflateStream(packed, CompressionLevel.Fastest, leaveOpen: true)) deflate.Write(content);
            entry.Packed = packed.ToArray();
            entry.Method = entry.LocalMethod = 8;
        }

        entry.Crc = entry.LocalCrc = Crc(content);
        entry.Size = entry.LocalSize = (uint)content.Length;
        entry.PackedSize = entry.LocalPackedSize = (uint)entry.Packed.Length;
        if (entry.Described) entry.Flags = entry.LocalFlags = 8;
        return entry;
    }

    private static void Lie(Attempt a, List<Entry> entries)
    {
        var one = entries[a.Below(entries.Count)];
        uint Lied(uint right) => a.Below(5) switch { 0 => 0, 1 => uint.MaxValue, 2 => right + 1, 3 => right - 1, _ => (uint)a.Random.Next() };
        switch (a.Below(20))
        {
            case 0:
                one.Size = Lied(one.Size);
                if (a.OneIn(2)) one.LocalSize = one.Size;
                break;
            case 1:
                one.PackedSize = Lied(one.PackedSize);
                if (a.OneIn(2)) one.LocalPackedSize = one.PackedSize;
                break;
            case 2:
                one.Crc = Lied(one.Crc);
                if (a.OneIn(2)) one.LocalCrc = one.Crc;
                break;
            case 3:
                one.Name = one.LocalName = Encoding.UTF8.GetBytes(a.Of(s_names));
                break;
            case 4:
                one.LocalName = Encoding.UTF8.GetBytes(a.Of(s_names));
                break;
            case 5:
                entries.Add(Ready(a.Of(s_names), a.OneIn(2) ? one.Content : "another"u8.ToArray(), a.OneIn(2), false));
                break;
            case 6:
                // The same name twice, one of them another content.
                entries.Insert(a.Below(entries.Count), Ready(Encoding.UTF8.GetString(one.Name), Spoil.Bytes(a, one.Content), a.OneIn(2), false));
                break;
            case 7:
                one.Offset = a.OneIn(2) ? 0 : a.Below(60_000);
                break;
            case 8:
                one.Method = a.Of((ushort[])[1, 6, 9, 12, 14, 93, 99, 65535]);
                if (a.OneIn(2)) one.LocalMethod = one.Method;
                break;
            case 9:
                one.Flags ^= (ushort)(1 << a.Below(16));
                if (a.OneIn(2)) one.LocalFlags = one.Flags;
                break;
            case 10:
                one.Extra = Extra(a);
                if (a.OneIn(2)) one.LocalExtra = one.Extra;
                break;
            case 11:
                one.LocalExtra = Extra(a);
                break;
            case 12:
                one.Comment = new byte[1 + a.Below(40)];
                break;
            case 13:
                one.Attributes = a.Of((uint[])[0xa1ff0000, 0x41ff0000, 0x61ff0000, 0x10, 0xffffffff, 0x81a40000]);
                break;
            case 14:
                one.Gap = new byte[1 + a.Below(200)];
                break;
            case 15:
                // Bytes behind the end of the packed content, or less than it.
                one.Packed = a.OneIn(2) ? [.. one.Packed, .. new byte[1 + a.Below(100)]] : one.Packed[..a.Below(one.Packed.Length + 1)];
                one.PackedSize = one.LocalPackedSize = (uint)one.Packed.Length;
                if (one.Method == 0 && a.OneIn(2)) one.Size = one.LocalSize = one.PackedSize;
                break;
            case 16:
                one.Packed = Spoil.Bytes(a, one.Packed);
                one.PackedSize = one.LocalPackedSize = (uint)one.Packed.Length;
                break;
            case 17:
                if (a.OneIn(4)) for (var i = a.Of((int[])[1, 100, 2100]); i > 0; i--) entries.Add(Ready($"f{i}", [], false, false));
                else one.Disk = (ushort)(1 + a.Below(3));
                break;
            case 18:
                one.Described = !one.Described;
                break;
            default:
                // Two entries that share their bytes.
                var other = entries[a.Below(entries.Count)];
                (other.Packed, other.Method, other.LocalMethod, other.PackedSize, other.LocalPackedSize, other.Offset) = ([], one.Method, one.LocalMethod, one.PackedSize, one.LocalPackedSize, one.Offset ?? 0);
                break;
        }
    }

    private static byte[] Extra(Attempt a)
    {
        var length = a.Of((int[])[0, 1, 5, 9, 20, 64, 65, 300]);
        return [.. BitConverter.GetBytes(a.Of(s_extras)), .. BitConverter.GetBytes((ushort)(a.OneIn(6) ? length + 3 : length)), .. new byte[length]];
    }

    private static byte[] Write(List<Entry> entries, Attempt? lie, Attempt a)
    {
        using var zip = new MemoryStream();
        var starts = new List<long>();
        if (lie?.OneIn(3) == true) zip.Write(new byte[1 + a.Below(30)]);
        foreach (var e in entries)
        {
            zip.Write(e.Gap);
            starts.Add(zip.Position);
            var blank = e.Described;
            zip.Write([0x50, 0x4b, 3, 4, 20, 0, .. U16(e.LocalFlags), .. U16(e.LocalMethod), 0, 0, 0x21, 0x5c, .. U32(blank ? 0 : e.LocalCrc), .. U32(blank ? 0 : e.LocalPackedSize), .. U32(blank ? 0 : e.LocalSize), .. U16(e.LocalName.Length), .. U16(e.LocalExtra.Length),
                .. e.LocalName, .. e.LocalExtra, .. e.Packed]);
            if (blank) zip.Write([0x50, 0x4b, 7, 8, .. U32(e.LocalCrc), .. U32(e.LocalPackedSize), .. U32(e.LocalSize)]);
        }

        if (lie?.OneIn(4) == true) zip.Write("hidden"u8);
        var start = zip.Position;
        for (var i = 0; i < entries.Count; i++)
        {
            var e = entries[i];
            zip.Write([0x50, 0x4b, 1, 2, 20, 3, 20, 0, .. U16(e.Flags), .. U16(e.Method), 0, 0, 0x21, 0x5c, .. U32(e.Crc), .. U32(e.PackedSize), .. U32(e.Size), .. U16(e.Name.Length), .. U16(e.Extra.Length), .. U16(e.Comment.Length), .. U16(e.Disk), 0, 0,
                .. U32(e.Attributes), .. U32((uint)(e.Offset ?? starts[i])), .. e.Name, .. e.Extra, .. e.Comment]);
        }

        var length = zip.Position - start;
        if (lie?.OneIn(4) == true) zip.Write(new byte[1 + a.Below(30)]);
        var count = lie?.OneIn(4) == true ? a.Of((int[])[0, entries.Count - 1, entries.Count + 1, 0xffff]) : entries.Count;
        if (lie?.OneIn(6) == true) zip.Write([0x50, 0x4b, 6, 7, 0, 0, 0, 0, .. BitConverter.GetBytes(start), 1, 0, 0, 0]);
        zip.Write([0x50, 0x4b, 5, 6, 0, 0, 0, 0, .. U16(count), .. U16(lie?.OneIn(5) == true ? count + 1 : count), .. U32((uint)length), .. U32(lie?.OneIn(5) == true ? (uint)a.Random.Next() : (uint)start), .. U16(lie?.OneIn(4) == true ? 5 : 0)]);
        if (lie?.OneIn(3) == true) zip.Write("hello"u8);
        return zip.ToArray();
    }

    private static byte[] U16(int value) => BitConverter.GetBytes((ushort)value);

    private static byte[] U32(uint value) => BitConverter.GetBytes(value);

    private static readonly uint[] s_crc = [.. Enumerable.Range(0, 256).Select(n =>
    {
        var c = (uint)n;
        for (var k = 0; k < 8; k++) c = (c & 1) != 0 ? 0xedb88320 ^ (c >> 1) : c >> 1;
        return c;
    })];

    private static uint Crc(byte[] content)
    {
        var crc = 0xffffffff;
        foreach (var b in content) crc = s_crc[(crc ^ b) & 0xff] ^ (crc >> 8);
        return ~crc;
    }
}
