using System.Net;
using System.Net.Http.Json;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.TestHost;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using Traceability.Service.Log;

namespace Traceability.Service.Tests.Log;

public sealed class LogEndpointsTests : IAsyncLifetime
{
    private readonly LogDatabase _log = new();
    private WebApplication _app = null!;
    private HttpClient _http = null!;

    public async Task InitializeAsync()
    {
        await _log.InitializeAsync();
        var builder = WebApplication.CreateSlimBuilder();
        builder.WebHost.UseTestServer();
        builder.Logging.ClearProviders();
        builder.Services.AddProblemDetails().AddSingleton(_log.Reader);
        _app = builder.Build();
        _app.MapLog();
        await _app.StartAsync();
        _http = _app.GetTestClient();
    }

    public async Task DisposeAsync()
    {
        await _app.DisposeAsync();
        await _log.DisposeAsync();
    }

    private async Task<string> NotFoundAsync(string address, HttpStatusCode status = HttpStatusCode.NotFound)
    {
        var answer = await _http.GetAsync(new Uri(address, UriKind.Relative));
        Assert.Equal(status, answer.StatusCode);
        Assert.Equal("application/problem+json", answer.Content.Headers.ContentType!.MediaType);
        return await answer.Content.ReadAsStringAsync();
    }

    [Fact]
    public async Task The_newest_checkpoint_is_served_as_the_signed_note()
    {
        await NotFoundAsync("/v1/log/checkpoint");
        await NotFoundAsync($"/v1/log/proof/{LogDatabase.RecordId(0)}");
        await _log.AddAsync(3);
        var signed = (await _log.Signer().SealOnceAsync(default))!;

        var answer = await _http.GetAsync(new Uri("/v1/log/checkpoint", UriKind.Relative));

        Assert.Equal("text/plain", answer.Content.Headers.ContentType!.MediaType);
        Assert.Equal(signed.Note, await answer.Content.ReadAsStringAsync());
    }

    [Fact]
    public async Task A_proof_leads_from_the_record_to_the_signed_root()
    {
        await _log.AddAsync(300);
        var signer = _log.Signer();
        await signer.SealOnceAsync(default);

        var proof = (await _http.GetFromJsonAsync<ProofAnswer>($"/v1/log/proof/{LogDatabase.RecordId(7)}"))!;

        var checkpoint = Checkpoint.Open(proof.Checkpoint, signer.Key.PublicKey)!;
        Assert.Equal((7, 300), (proof.Index, proof.Size));
        Assert.Equal(proof.Root, Convert.ToHexStringLower(checkpoint.Root));
        Assert.True(Merkle.VerifyInclusion(
            7, checkpoint.Size, Convert.FromHexString(proof.LeafHash), [.. proof.Hashes.Select(Convert.FromHexString)], checkpoint.Root));
        Assert.Contains("has no record", await NotFoundAsync($"/v1/log/proof/{Guid.NewGuid()}"), StringComparison.Ordinal);
        await _log.AddAsync(1);
        Assert.Contains("Not sealed yet", await NotFoundAsync($"/v1/log/proof/{LogDatabase.RecordId(300)}"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Two_signed_sizes_are_shown_to_be_one_log()
    {
        var signer = _log.Signer();
        await _log.AddAsync(5);
        await signer.SealOnceAsync(default);
        await _log.AddAsync(5);
        await signer.SealOnceAsync(default);

        var proof = (await _http.GetFromJsonAsync<ConsistencyAnswer>("/v1/log/consistency?from=5&to=10"))!;

        Assert.True(Merkle.VerifyConsistency(
            5, 10, Checkpoint.Open(proof.FromCheckpoint, signer.Key.PublicKey)!.Root, Checkpoint.Open(proof.ToCheckpoint, signer.Key.PublicKey)!.Root,
            [.. proof.Hashes.Select(Convert.FromHexString)]));
        await NotFoundAsync("/v1/log/consistency?from=4&to=10");
        Assert.Contains("from: must be at least 1", await NotFoundAsync("/v1/log/consistency?from=0&to=10", HttpStatusCode.BadRequest), StringComparison.Ordinal);
        Assert.Contains("at most to", await NotFoundAsync("/v1/log/consistency?from=10&to=5", HttpStatusCode.BadRequest), StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_sealing_service_seals_what_comes_and_goes_on_after_a_refusal_that_was_put_right()
    {
        var signer = _log.Signer();
        using var sealing = new LogSealing(
            signer, TimeProvider.System, TimeSpan.FromMilliseconds(20), NullLogger<LogSealing>.Instance, TimeSpan.FromMilliseconds(20));
        await sealing.StartAsync(default);

        await _log.AddAsync(3);
        await UntilAsync(async () => (await _log.Reader.LatestAsync(default))?.Size == 3);
        await _log.RunAsync("update trace.log_leaf set index = 9 where index = 2");
        await UntilAsync(() => Task.FromResult(signer.Refusal is not null));
        await _log.RunAsync("update trace.log_leaf set index = 2 where index = 9");
        await UntilAsync(() => Task.FromResult(signer.Refusal is null));
        await _log.AddAsync(1);
        await UntilAsync(async () => (await _log.Reader.LatestAsync(default))?.Size == 4);

        await sealing.StopAsync(default);
    }

    private static async Task UntilAsync(Func<Task<bool>> true_)
    {
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(20));
        while (!await true_())
        {
            await Task.Delay(10, patience.Token);
        }
    }
}
