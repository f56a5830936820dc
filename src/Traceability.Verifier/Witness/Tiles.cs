using System.Globalization;

namespace Traceability.Verifier.Witness;

/// <summary>
/// The tree of a log as it is served in tiles (C2SP tlog-tiles, published, 0.1): any root and consistency proof is worked out from them here,
/// nothing of it is believed from the log.
/// </summary>
/// <param name="fetch">Gives the bytes at a path below the log's address, such as <c>tile/0/x001/234</c>.</param>
/// <param name="size">Records of the checkpoint that the tiles are read for.</param>
internal sealed class Tiles(Func<string, byte[]> fetch, long size)
{
    private const int Width = 256;

    private readonly Dictionary<(int Level, long Index), byte[][]> _tiles = [];

    /// <summary>Root over the first leaves.</summary>
    internal byte[] Root(long leaves) => leaves == 0 ? new RunningRoot().Root() : Range(0, leaves);

    /// <summary>Consistency proof by RFC 6962 section 2.1.2 between an older size and this one.</summary>
    internal IReadOnlyList<byte[]> Consistency(long older)
    {
        var proof = new List<byte[]>();
        if (older > 0 && older < size)
        {
            Sub(older, 0, size, whole: true, proof);
        }

        return proof;
    }

    private void Sub(long older, long low, long high, bool whole, List<byte[]> proof)
    {
        if (older == high - low)
        {
            if (!whole)
            {
                proof.Add(Range(low, high));
            }

            return;
        }

        var half = Half(high - low);
        if (older <= half)
        {
            Sub(older, low, low + half, whole, proof);
            proof.Add(Range(low + half, high));
        }
        else
        {
            Sub(older - half, low + half, high, whole: false, proof);
            proof.Add(Range(low, low + half));
        }
    }

    private static long Half(long count)
    {
        var half = 1L;
        while (half * 2 < count)
        {
            half *= 2;
        }

        return half;
    }

    private byte[] Range(long low, long high)
    {
        var count = high - low;
        if ((count & (count - 1)) == 0 && low % count == 0)
        {
            return Node((int)long.Log2(count), low / count);
        }

        var half = Half(count);
        return Tree.Node(Range(low, low + half), Range(low + half, high));
    }

    private byte[] Node(int level, long index)
    {
        var (tile, inside) = (level / 8, level % 8);
        var first = index << inside;
        var hashes = Tile(tile, first / Width);
        var start = (int)(first % Width);
        var count = 1 << inside;
        if (hashes.Length < start + count)
        {
            throw new InvalidDataException(string.Create(CultureInfo.InvariantCulture, $"The tile at level {tile}, index {first / Width} holds {hashes.Length} hashes; {start + count} are needed."));
        }

        var root = new RunningRoot();
        foreach (var hash in hashes.AsSpan(start, count))
        {
            root.Add(hash);
        }

        return root.Root();
    }

    private byte[][] Tile(int level, long index)
    {
        if (_tiles.TryGetValue((level, index), out var known))
        {
            return known;
        }

        var nodes = size >> (8 * level);
        var width = (int)Math.Min(Width, nodes - (index * Width));
        var bytes = fetch(Path(level, index, width));
        if (bytes.Length != width * 32)
        {
            throw new InvalidDataException(string.Create(CultureInfo.InvariantCulture, $"The tile at level {level}, index {index} has {bytes.Length} bytes, not {width * 32}."));
        }

        return _tiles[(level, index)] = [.. bytes.Chunk(32)];
    }

    /// <summary>Where a tile stands below the log's address.</summary>
    internal static string Path(int level, long index, int width) =>
        string.Create(CultureInfo.InvariantCulture, $"tile/{level}/{Number(index)}{(width == Width ? "" : $".p/{width}")}");

    private static string Number(long index)
    {
        var text = (index % 1000).ToString("D3", CultureInfo.InvariantCulture);
        for (var rest = index / 1000; rest > 0; rest /= 1000)
        {
            text = string.Create(CultureInfo.InvariantCulture, $"x{rest % 1000:D3}/{text}");
        }

        return text;
    }
}
