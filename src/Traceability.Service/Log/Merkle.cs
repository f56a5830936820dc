using System.Numerics;
using System.Security.Cryptography;

namespace Traceability.Service.Log;

/// <summary>Leaves from <see cref="Low"/> up to but not including <see cref="High"/>.</summary>
public readonly record struct LeafRange(long Low, long High);

/// <summary>
/// The hash of 2^<see cref="Level"/> leaves, the first of which is <see cref="Index"/> times that many.
/// Once those leaves exist it never changes.
/// </summary>
public readonly record struct TreeNode(int Level, long Index);

/// <summary>Merkle tree hash and proofs of RFC 6962 section 2.1 (published), over SHA-256. Pure.</summary>
public static class Merkle
{
    /// <summary>Bytes in a hash.</summary>
    public const int HashSize = 32;

    /// <summary>Root of the log without leaves: the hash of nothing.</summary>
    public static byte[] EmptyRoot => SHA256.HashData([]);

    /// <summary>SHA-256(0x00 || data).</summary>
    public static byte[] LeafHash(ReadOnlySpan<byte> data)
    {
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        hash.AppendData([0]);
        hash.AppendData(data);
        return hash.GetHashAndReset();
    }

    /// <summary>SHA-256(0x01 || left || right).</summary>
    public static byte[] NodeHash(ReadOnlySpan<byte> left, ReadOnlySpan<byte> right)
    {
        Span<byte> input = stackalloc byte[1 + 2 * HashSize];
        input[0] = 1;
        left.CopyTo(input[1..]);
        right.CopyTo(input[(1 + HashSize)..]);
        return SHA256.HashData(input);
    }

    /// <summary>Root over leaf hashes.</summary>
    public static byte[] Root(IEnumerable<byte[]> leafHashes)
    {
        var range = new CompactRange();
        foreach (var leaf in leafHashes)
        {
            range.Append(leaf);
        }

        return range.Root();
    }

    /// <summary>
    /// The ranges whose hashes prove that leaf <paramref name="index"/> is in the log of <paramref name="size"/> leaves,
    /// nearest first: PATH(m, D[n]).
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">The leaf is not in a log of that size.</exception>
    public static IReadOnlyList<LeafRange> InclusionRanges(long index, long size)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(index);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(index, size);
        var path = new List<LeafRange>();
        long low = 0, high = size;
        while (high - low > 1)
        {
            var middle = low + SplitBelow(high - low);
            if (index < middle)
            {
                path.Add(new LeafRange(middle, high));
                high = middle;
            }
            else
            {
                path.Add(new LeafRange(low, middle));
                low = middle;
            }
        }

        path.Reverse();
        return path;
    }

    /// <summary>
    /// The ranges whose hashes prove that the log of <paramref name="newer"/> leaves begins with the log of
    /// <paramref name="older"/> leaves: PROOF(m, D[n]).
    /// </summary>
    /// <exception cref="ArgumentOutOfRangeException">The older size is under 1 or over the newer.</exception>
    public static IReadOnlyList<LeafRange> ConsistencyRanges(long older, long newer)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(older, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(older, newer);
        var proof = new List<LeafRange>();
        long low = 0, high = newer;
        var isOlderLog = true;
        while (older != high)
        {
            var middle = low + SplitBelow(high - low);
            if (older <= middle)
            {
                proof.Add(new LeafRange(middle, high));
                high = middle;
            }
            else
            {
                proof.Add(new LeafRange(low, middle));
                low = middle;
                isOlderLog = false;
            }
        }

        if (!isOlderLog)
        {
            proof.Add(new LeafRange(low, high));
        }

        proof.Reverse();
        return proof;
    }

    /// <summary>The nodes that make up a range of a proof, from the left, each no larger than the one before.</summary>
    public static IReadOnlyList<TreeNode> Nodes(LeafRange range)
    {
        var nodes = new List<TreeNode>();
        var low = range.Low;
        while (low < range.High)
        {
            var level = BitOperations.Log2((ulong)(range.High - low));
            nodes.Add(new TreeNode(level, low >> level));
            low += 1L << level;
        }

        return nodes;
    }

    /// <summary>Hash over the hashes of <see cref="Nodes"/>.</summary>
    public static byte[] Fold(IReadOnlyList<byte[]> hashes)
    {
        if (hashes.Count == 0)
        {
            return EmptyRoot;
        }

        var hash = hashes[^1];
        for (var i = hashes.Count - 2; i >= 0; i--)
        {
            hash = NodeHash(hashes[i], hash);
        }

        return hash;
    }

    /// <summary>Whether the path leads from the leaf to the root.</summary>
    public static bool VerifyInclusion(
        long index, long size, ReadOnlySpan<byte> leafHash, IReadOnlyList<byte[]> path, ReadOnlySpan<byte> root)
    {
        if (index < 0 || index >= size)
        {
            return false;
        }

        var ranges = InclusionRanges(index, size);
        if (ranges.Count != path.Count || path.Any(h => h.Length != HashSize))
        {
            return false;
        }

        var hash = leafHash.ToArray();
        for (var i = 0; i < ranges.Count; i++)
        {
            hash = ranges[i].Low > index ? NodeHash(hash, path[i]) : NodeHash(path[i], hash);
        }

        return root.SequenceEqual(hash);
    }

    /// <summary>Whether the newer root is of a log that begins with all leaves of the older.</summary>
    public static bool VerifyConsistency(
        long older, long newer, ReadOnlySpan<byte> olderRoot, ReadOnlySpan<byte> newerRoot, IReadOnlyList<byte[]> proof)
    {
        if (older < 1 || older > newer)
        {
            return false;
        }

        if (older == newer)
        {
            return proof.Count == 0 && olderRoot.SequenceEqual(newerRoot);
        }

        var ranges = ConsistencyRanges(older, newer);
        if (ranges.Count != proof.Count || proof.Any(h => h.Length != HashSize))
        {
            return false;
        }

        // Where the older log is a whole subtree of the newer, its root is the start and is not in the proof.
        var whole = ranges[0].High > older;
        var start = whole ? 0 : 1;
        var old = whole ? olderRoot.ToArray() : proof[0];
        var all = old;
        for (var i = start; i < proof.Count; i++)
        {
            if (ranges[i].Low >= older)
            {
                all = NodeHash(all, proof[i]);
            }
            else
            {
                old = NodeHash(proof[i], old);
                all = NodeHash(proof[i], all);
            }
        }

        return olderRoot.SequenceEqual(old) && newerRoot.SequenceEqual(all);
    }

    /// <summary>Largest power of two smaller than <paramref name="count"/>, which is over 1.</summary>
    private static long SplitBelow(long count) => 1L << BitOperations.Log2((ulong)(count - 1));
}

/// <summary>
/// The right edge of a log: the hashes of the largest whole subtrees from the left, one for each bit set in the
/// size. All that is needed to add leaves and to name the root.
/// </summary>
public sealed class CompactRange
{
    private readonly List<byte[]> _edge;

    /// <summary>The edge of the log without leaves.</summary>
    public CompactRange()
    {
        _edge = [];
    }

    /// <summary>The edge as it was kept.</summary>
    /// <exception cref="ArgumentException">Not one hash of 32 bytes for each bit set in the size.</exception>
    public CompactRange(long size, IEnumerable<byte[]> edge)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(size);
        _edge = [.. edge];
        Size = size;
        if (_edge.Count != BitOperations.PopCount((ulong)size) || _edge.Any(h => h.Length != Merkle.HashSize))
        {
            throw new ArgumentException($"The edge of a log of {size} leaves has one hash for each bit set in its size.", nameof(edge));
        }
    }

    /// <summary>Leaves so far.</summary>
    public long Size { get; private set; }

    /// <summary>Hashes of the edge, the largest subtree first.</summary>
    public IReadOnlyList<byte[]> Edge => _edge;

    /// <summary>Adds the next leaf.</summary>
    public void Append(byte[] leafHash)
    {
        var hash = leafHash;
        for (var bits = Size; (bits & 1) == 1; bits >>= 1)
        {
            hash = Merkle.NodeHash(_edge[^1], hash);
            _edge.RemoveAt(_edge.Count - 1);
        }

        _edge.Add(hash);
        Size++;
    }

    /// <summary>Root over all leaves so far.</summary>
    public byte[] Root() => Merkle.Fold(_edge);

    /// <summary>The edge at the last size that was a multiple of 2^<paramref name="level"/>.</summary>
    public CompactRange Floor(int level)
    {
        var size = Size >> level << level;
        return new CompactRange(size, _edge.Take(BitOperations.PopCount((ulong)size)));
    }
}
