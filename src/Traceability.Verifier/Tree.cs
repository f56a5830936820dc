using System.Security.Cryptography;

namespace Traceability.Verifier;

/// <summary>Merkle tree of RFC 6962, checked by the algorithms of RFC 9162 sections 2.1.3.2 and 2.1.4.2 (published).</summary>
internal static class Tree
{
    internal static byte[] Leaf(ReadOnlySpan<byte> data)
    {
        var input = new byte[data.Length + 1];
        data.CopyTo(input.AsSpan(1));
        return SHA256.HashData(input);
    }

    internal static byte[] Node(byte[] left, byte[] right) => SHA256.HashData([1, .. left, .. right]);

    internal static bool Includes(long index, long size, byte[] leaf, IReadOnlyList<byte[]> path, byte[] root)
    {
        if (index < 0 || index >= size)
        {
            return false;
        }

        long fn = index, sn = size - 1;
        var r = leaf;
        foreach (var p in path)
        {
            if (sn == 0)
            {
                return false;
            }

            if ((fn & 1) == 1 || fn == sn)
            {
                r = Node(p, r);
                while ((fn & 1) == 0 && fn != 0)
                {
                    fn >>= 1;
                    sn >>= 1;
                }
            }
            else
            {
                r = Node(r, p);
            }

            fn >>= 1;
            sn >>= 1;
        }

        return sn == 0 && r.AsSpan().SequenceEqual(root);
    }

    internal static bool Continues(long first, long second, byte[] firstRoot, byte[] secondRoot, IReadOnlyList<byte[]> proof)
    {
        if (first < 1 || first >= second)
        {
            return first == second && first >= 1 && proof.Count == 0 && firstRoot.AsSpan().SequenceEqual(secondRoot);
        }

        var path = (first & (first - 1)) == 0 ? [firstRoot, .. proof] : proof.ToArray();
        if (path.Length == 0)
        {
            return false;
        }

        long fn = first - 1, sn = second - 1;
        while ((fn & 1) == 1)
        {
            fn >>= 1;
            sn >>= 1;
        }

        byte[] fr = path[0], sr = path[0];
        foreach (var c in path.Skip(1))
        {
            if (sn == 0)
            {
                return false;
            }

            if ((fn & 1) == 1 || fn == sn)
            {
                fr = Node(c, fr);
                sr = Node(c, sr);
                while ((fn & 1) == 0 && fn != 0)
                {
                    fn >>= 1;
                    sn >>= 1;
                }
            }
            else
            {
                sr = Node(sr, c);
            }

            fn >>= 1;
            sn >>= 1;
        }

        return sn == 0 && fr.AsSpan().SequenceEqual(firstRoot) && sr.AsSpan().SequenceEqual(secondRoot);
    }
}

/// <summary>The root over leaves as they come, with one pending hash for each height.</summary>
internal sealed class RunningRoot
{
    private readonly Stack<(int Height, byte[] Hash)> _pending = new();

    internal long Count { get; private set; }

    internal void Add(byte[] leaf)
    {
        var (height, hash) = (0, leaf);
        while (_pending.TryPeek(out var left) && left.Height == height)
        {
            hash = Tree.Node(_pending.Pop().Hash, hash);
            height++;
        }

        _pending.Push((height, hash));
        Count++;
    }

    internal byte[] Root()
    {
        byte[]? root = null;
        foreach (var (_, hash) in _pending)
        {
            root = root is null ? hash : Tree.Node(hash, root);
        }

        return root ?? SHA256.HashData([]);
    }
}
