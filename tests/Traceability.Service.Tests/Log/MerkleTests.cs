using CsCheck;
using Traceability.Service.Log;

namespace Traceability.Service.Tests.Log;

/// <summary>
/// RFC 6962 section 2.1 (published). Leaves, roots and proofs are the reference vectors published with its public
/// implementations.
/// </summary>
public class MerkleTests
{
    private static readonly string[] s_leaves =
        ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"];

    private static readonly string[] s_roots =
    [
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
        "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
        "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
        "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
        "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
    ];

    private static byte[] Hex(string hex) => Convert.FromHexString(hex);

    private static byte[][] PublishedLeaves(int count) =>
        [.. s_leaves.Take(count).Select(l => Merkle.LeafHash(Hex(l)))];

    private static string[] Proof(IReadOnlyList<LeafRange> ranges, byte[][] leaves) =>
        [.. ranges.Select(r => Convert.ToHexStringLower(Merkle.Root(leaves[(int)r.Low..(int)r.High])))];

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    [InlineData(4)]
    [InlineData(5)]
    [InlineData(6)]
    [InlineData(7)]
    [InlineData(8)]
    public void The_root_of_the_published_leaves_is_the_published_root(int size)
    {
        Assert.Equal(s_roots[size], Convert.ToHexStringLower(Merkle.Root(PublishedLeaves(size))));
    }

    [Theory]
    [InlineData(0, "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7 5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e 6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4")]
    [InlineData(5, "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0 d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7")]
    public void The_inclusion_proof_in_eight_leaves_is_the_published_one(int index, string published)
    {
        Assert.Equal(published.Split(' '), Proof(Merkle.InclusionRanges(index, 8), PublishedLeaves(8)));
        Assert.True(Merkle.VerifyInclusion(
            index, 8, Merkle.LeafHash(Hex(s_leaves[index])), [.. published.Split(' ').Select(Hex)], Hex(s_roots[8])));
    }

    [Theory]
    [InlineData(1, 8, "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7 5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e 6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4")]
    [InlineData(6, 8, "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0 d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7")]
    [InlineData(2, 5, "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b")]
    public void The_consistency_proof_is_the_published_one(int older, int newer, string published)
    {
        Assert.Equal(published.Split(' '), Proof(Merkle.ConsistencyRanges(older, newer), PublishedLeaves(newer)));
        Assert.True(Merkle.VerifyConsistency(
            older, newer, Hex(s_roots[older]), Hex(s_roots[newer]), [.. published.Split(' ').Select(Hex)]));
    }

    private static readonly byte[][] s_many = [.. Enumerable.Range(0, 600).Select(i => Merkle.LeafHash(BitConverter.GetBytes(i)))];

    /// <summary>MTH of RFC 6962 2.1 as written there, by recursion: the yardstick for the rest.</summary>
    private static byte[] Mth(ReadOnlySpan<byte[]> leaves)
    {
        if (leaves.Length <= 1)
        {
            return leaves.Length == 0 ? Merkle.EmptyRoot : leaves[0];
        }

        var k = 1;
        while (k * 2 < leaves.Length)
        {
            k *= 2;
        }

        return Merkle.NodeHash(Mth(leaves[..k]), Mth(leaves[k..]));
    }

    [Fact]
    public void The_right_edge_gives_the_root_of_the_definition_at_every_size()
    {
        var range = new CompactRange();
        for (var size = 0; size <= s_many.Length; size++)
        {
            Assert.Equal(Mth(s_many.AsSpan(0, size)), range.Root());
            var kept = new CompactRange(range.Size, range.Edge);
            Assert.Equal(range.Root(), kept.Root());
            Assert.Equal(Mth(s_many.AsSpan(0, size / 256 * 256)), range.Floor(8).Root());
            if (size < s_many.Length)
            {
                range.Append(s_many[size]);
            }
        }
    }

    [Fact]
    public void Nodes_of_a_proof_fold_to_the_hash_of_their_range()
    {
        Gen.Select(Gen.Int[1, 600], Gen.Int[0, 599]).Where((size, index) => index < size).Sample((size, index) =>
        {
            foreach (var range in Merkle.InclusionRanges(index, size))
            {
                var nodes = Merkle.Nodes(range).Select(n => Mth(s_many.AsSpan((int)(n.Index << n.Level), 1 << n.Level)));
                Assert.Equal(Mth(s_many.AsSpan((int)range.Low, (int)(range.High - range.Low))), Merkle.Fold([.. nodes]));
            }
        });
    }

    [Fact]
    public void A_leaf_is_proved_at_its_own_place_in_its_own_log_only()
    {
        Gen.Select(Gen.Int[1, 600], Gen.Int[0, 599], Gen.Int[0, 599], Gen.Int[1, 600])
            .Where((size, index, _, _) => index < size)
            .Sample((size, index, elsewhere, other) =>
            {
                var root = Merkle.Root(s_many.Take(size));
                byte[][] path = [.. Merkle.InclusionRanges(index, size)
                    .Select(r => Merkle.Root(s_many[(int)r.Low..(int)r.High]))];
                Assert.True(Merkle.VerifyInclusion(index, size, s_many[index], path, root));
                if (elsewhere != index)
                {
                    Assert.False(Merkle.VerifyInclusion(elsewhere, size, s_many[index], path, root));
                    Assert.False(Merkle.VerifyInclusion(index, size, s_many[elsewhere], path, root));
                }

                if (other != size)
                {
                    Assert.False(Merkle.VerifyInclusion(index, size, s_many[index], path, Merkle.Root(s_many.Take(other))));
                }

                if (path.Length > 0)
                {
                    Assert.False(Merkle.VerifyInclusion(index, size, s_many[index], path[1..], root));
                    var wrong = path.Select(h => (byte[])h.Clone()).ToArray();
                    wrong[elsewhere % wrong.Length][other % 32] ^= 1;
                    Assert.False(Merkle.VerifyInclusion(index, size, s_many[index], wrong, root));
                }
            });
    }

    [Fact]
    public void A_log_is_proved_to_continue_its_own_beginning_only()
    {
        Gen.Select(Gen.Int[1, 600], Gen.Int[1, 600], Gen.Int[0, 599]).Where((older, newer, _) => older <= newer)
            .Sample((older, newer, changed) =>
            {
                byte[] oldRoot = Merkle.Root(s_many.Take(older)), newRoot = Merkle.Root(s_many.Take(newer));
                byte[][] proof = [.. Merkle.ConsistencyRanges(older, newer)
                    .Select(r => Merkle.Root(s_many[(int)r.Low..(int)r.High]))];
                Assert.True(Merkle.VerifyConsistency(older, newer, oldRoot, newRoot, proof));
                if (changed < older)
                {
                    var forged = s_many.Take(older).ToArray();
                    forged[changed] = Merkle.EmptyRoot;
                    Assert.False(Merkle.VerifyConsistency(older, newer, Merkle.Root(forged), newRoot, proof));
                }
            });
    }

    [Fact]
    public void An_edge_that_does_not_fit_its_size_is_refused()
    {
        Assert.Throws<ArgumentException>(() => new CompactRange(3, [s_many[0]]));
        Assert.Throws<ArgumentException>(() => new CompactRange(1, [[1, 2, 3]]));
    }
}
