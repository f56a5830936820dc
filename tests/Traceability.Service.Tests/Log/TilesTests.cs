using System.Globalization;
using System.Net;
using System.Security.Cryptography;
using System.Text.Json;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.TestHost;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using Traceability.Service.Log;

namespace Traceability.Service.Tests.Log;

/// <summary>
/// The log in tiles (C2SP tlog-tiles, published, 0.1), held against golang.org/x/mod/sumdb/tlog, the first implementation of such tiles:
/// tlog/vectors.json, made by tlog/generate.go.
/// </summary>
public sealed class TilesTests : IAsyncLifetime
{
    private static readonly JsonElement s_vectors = JsonDocument.Parse(File.ReadAllText(Core.Tests.Repository.Path("tests", "Traceability.Service.Tests", "Log", "tlog", "vectors.json"))).RootElement;

    private readonly LogDatabase _log = new();
    private WebApplication _app = null!;
    private HttpClient _http = null!;

    public async Task InitializeAsync()
    {
        await _log.InitializeAsync();
        var builder = WebApplication.CreateSlimBuilder();
        builder.WebHost.UseTestServer();
        builder.Logging.ClearProviders();
        builder.Services.AddProblemDetails().AddSingleton(_log.Reader).AddSingleton(new CosignatureStore(_log.Source, new Witnesses([]), TimeProvider.System));
        _app = builder.Build();
        _app.MapTiles(_ => { }, _ => { });
        await _app.StartAsync();
        _http = _app.GetTestClient();
    }

    public async Task DisposeAsync()
    {
        await _app.DisposeAsync();
        await _log.DisposeAsync();
    }

    [Fact]
    public async Task Roots_consistency_proofs_and_tiles_are_those_of_another_implementation()
    {
        var signer = _log.Signer();
        var size = 0L;
        SealedCheckpoint latest = null!;
        foreach (var root in s_vectors.GetProperty("roots").EnumerateArray())
        {
            var next = root.GetProperty("size").GetInt64();
            await _log.AddAsync((int)(next - size));
            size = next;
            latest = (await signer.SealOnceAsync(default))!;
            Assert.Equal((size, root.GetProperty("root").GetString()), (latest.Size, Convert.ToHexStringLower(latest.Root)));
        }

        foreach (var pair in s_vectors.GetProperty("consistency").EnumerateArray())
        {
            var newer = (await _log.Reader.AtAsync(pair.GetProperty("newer").GetInt64(), default))!;
            var proof = await _log.Reader.ContinuationAsync(pair.GetProperty("older").GetInt64(), newer, default);
            Assert.Equal(pair.GetProperty("hashes").EnumerateArray().Select(h => h.GetString()), proof.Select(Convert.ToHexStringLower));
        }

        var tiles = 0;
        foreach (var tile in s_vectors.GetProperty("tiles").EnumerateArray())
        {
            var path = tile.GetProperty("path").GetString()!;
            var answer = await _http.GetAsync(new Uri("/log/" + path, UriKind.Relative));
            Assert.True(answer.StatusCode == HttpStatusCode.OK, path);
            Assert.Equal("application/octet-stream", answer.Content.Headers.ContentType!.MediaType);
            Assert.Equal(tile.GetProperty("sha256").GetString(), Convert.ToHexStringLower(SHA256.HashData(await answer.Content.ReadAsByteArrayAsync())));
            tiles++;
        }

        Assert.True(tiles > 10, tiles.ToString(CultureInfo.InvariantCulture));
    }

    [Fact]
    public async Task Nothing_is_served_beyond_the_newest_checkpoint_and_no_odd_address_is_taken()
    {
        await _log.AddAsync(300);
        await _log.Signer().SealOnceAsync(default);
        await _log.AddAsync(300);

        foreach (var path in new[] { "tile/0/001.p/44", "tile/0/000", "tile/1/000.p/1", "tile/entries/001.p/44", "checkpoint" })
            Assert.True((await _http.GetAsync(new Uri("/log/" + path, UriKind.Relative))).StatusCode == HttpStatusCode.OK, path);
        foreach (var path in new[]
        {
            "tile/0/001", "tile/0/001.p/45", "tile/1/000.p/2", "tile/0/001.p/0", "tile/0/001.p/044", "tile/0/1.p/44", "tile/0/x000/001.p/44", "tile/0/x999/x999/x999/x999/999", "tile/64/000", "tile/entries/002", "tile/0/",
        })
            Assert.True((await _http.GetAsync(new Uri("/log/" + path, UriKind.Relative))).StatusCode == HttpStatusCode.NotFound, path);
    }

    [Fact]
    public async Task A_bundle_holds_the_exact_bytes_behind_the_leaves()
    {
        await _log.AddAsync(300);
        await _log.Signer().SealOnceAsync(default);

        var bundle = await _http.GetByteArrayAsync(new Uri("/log/tile/entries/001.p/44", UriKind.Relative));
        var hashes = await _http.GetByteArrayAsync(new Uri("/log/tile/0/001.p/44", UriKind.Relative));

        var at = 0;
        var leaves = new List<byte>();
        while (at < bundle.Length)
        {
            var length = (bundle[at] << 8) + bundle[at + 1];
            leaves.AddRange(Merkle.LeafHash(bundle.AsSpan(at + 2, length)));
            at += 2 + length;
        }

        Assert.Equal(hashes, leaves);
    }
}
