using System.Text.Json;
using Traceability.Core.Records;
using Traceability.Service.Log;
using Traceability.Service.Operations;

namespace Traceability.Service.Packets;

/// <summary>
/// Part of the signer: signs the manifests of packets that are laid before it. The key never leaves the signer, and it
/// signs nothing but a manifest that names a state of the log which the same key signed.
/// </summary>
public sealed partial class ManifestSigning(LogSigner signer, PacketStore store, Npgsql.NpgsqlDataSource source, ILogger<ManifestSigning> log) : BackgroundService
{
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        using var wake = new Wake(source, PacketStore.Channel);
        string? said = null;
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                if (signer.Origin is var origin && said != origin)
                {
                    await store.SayKeyAsync(origin, signer.Key.PublicKey, stoppingToken);
                    said = origin;
                }

                foreach (var (packet, manifest) in await store.WaitingAsync(stoppingToken))
                {
                    var refused = await RefusalAsync(manifest, stoppingToken);
                    await store.AnswerAsync(packet, refused is null ? signer.Key.Sign(manifest) : null, refused, stoppingToken);
                    if (refused is null) LogSigned(log, packet);
                    else LogRefused(log, packet, refused);
                }

                await wake.WaitAsync(TimeSpan.FromSeconds(1), stoppingToken);
            }
            catch (Exception e) when (!stoppingToken.IsCancellationRequested && (e is IOException or Npgsql.NpgsqlException or TimeoutException))
            {
                LogWaits(log, e.Message);
                await Task.Delay(TimeSpan.FromSeconds(1), stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
            catch (OperationCanceledException)
            {
                return;
            }
        }
    }

    private async Task<string?> RefusalAsync(byte[] manifest, CancellationToken cancel)
    {
        try
        {
            if (!CanonicalJson.IsCanonical(manifest)) return "the bytes are not canonical JSON";
            using var json = JsonDocument.Parse(manifest);
            if (json.RootElement.GetProperty("format").GetString() != PacketFiles.Format) return "the bytes are not the manifest of a packet";
            var state = json.RootElement.GetProperty("log");
            var origin = state.GetProperty("origin").GetString()!;
            var size = state.GetProperty("size").GetInt64();
            var note = await store.NoteAsync(origin, size, cancel);
            var signed = note is null ? null : Checkpoint.Open(note, signer.Key.PublicKey);
            return signed is not null && signed.Origin == origin && signed.Size == size && Convert.ToHexStringLower(signed.Root) == state.GetProperty("root").GetString()
                ? null
                : "the manifest names a state of the log that this key did not sign";
        }
        catch (Exception e) when (e is JsonException or KeyNotFoundException or InvalidOperationException or CanonicalJsonException)
        {
            return "the bytes are not the manifest of a packet";
        }
    }

    [LoggerMessage(LogLevel.Information, "Signed the manifest of packet {Packet}")]
    private static partial void LogSigned(ILogger logger, string packet);

    [LoggerMessage(LogLevel.Error, "Refused to sign the manifest of packet {Packet}: {Why}")]
    private static partial void LogRefused(ILogger logger, string packet, string why);

    [LoggerMessage(LogLevel.Warning, "Signing of packets waits: {Why}")]
    private static partial void LogWaits(ILogger logger, string why);
}
