using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Log;
using Traceability.Service.Operations;
using Traceability.Service.Recording;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Packets;

/// <summary>
/// Part of the signer: signs the manifest of a packet when the log that it signed itself holds the record of who issued that
/// packet, with the manifest's hash. A row in a table alone gets no signature, whoever wrote it.
/// </summary>
public sealed partial class ManifestSigning(LogSigner signer, PacketStore store, LogReader reader, Npgsql.NpgsqlDataSource source, TimeProvider clock, ILogger<ManifestSigning> log) : BackgroundService
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

                foreach (var (packet, manifest, record) in await store.WaitingAsync(stoppingToken)) await LookAsync(packet, manifest, record, stoppingToken);
                // A record that waits for its seal has it within a second.
                await wake.WaitAsync(TimeSpan.FromMilliseconds(500), stoppingToken);
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                return;
            }
            catch (Exception e)
            {
                // Whatever it was, sealing goes on beside this and the next look may find it fixed.
                LogWaits(log, e.Message);
                await Task.Delay(TimeSpan.FromSeconds(1), stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    private async Task LookAsync(string packet, byte[] manifest, Guid? record, CancellationToken cancel)
    {
        string? refused;
        try
        {
            if (signer.Sealed is not { } state) return;
            refused = await RefusalAsync(packet, manifest, record, state, cancel);
            if (refused is null)
            {
                await store.AnswerAsync(packet, Encoding.UTF8.GetBytes(ManifestNote.Sign(state.Origin, manifest, signer.Key)), null, clock.GetUtcNow(), cancel);
                LogSigned(log, packet);
                return;
            }
        }
        catch (NotSealedYetException)
        {
            return;
        }
        catch (Exception e) when (e is not OperationCanceledException && !Recorder.IsAway(e))
        {
            refused = $"the row cannot be read ({e.GetType().Name})";
        }

        await store.AnswerAsync(packet, null, refused, clock.GetUtcNow(), cancel);
        LogRefused(log, packet, refused);
    }

    /// <returns>Why the manifest is not signed; null when it is to be.</returns>
    /// <exception cref="NotSealedYetException">The record of its issue is not sealed yet.</exception>
    private async Task<string?> RefusalAsync(string packet, byte[] manifest, Guid? issue, SealedCheckpoint state, CancellationToken cancel)
    {
        if (!CanonicalJson.IsCanonical(manifest)) return "the bytes are not canonical JSON";
        using var json = JsonDocument.Parse(manifest);
        var root = json.RootElement;
        if (Text(root, "format") != PacketFiles.Format || root.GetProperty("draft").GetBoolean()) return "the bytes are not the manifest of a packet";
        if (issue is not { } id || await store.RecordAsync(id, cancel) is not { } bytes) return "no record says who issued it";

        // Against the root in the signer's own memory: the rows of the database prove nothing by themselves.
        var proof = await ProofAsync(id, state, cancel);
        if (!Record.LeafHash(bytes).AsSpan().SequenceEqual(proof.LeafHash)) return "the record of its issue is not the one that was sealed";
        var record = Record.Read(bytes, 0);
        var supplement = root.TryGetProperty("supplement", out var of) && of.ValueKind == JsonValueKind.Object ? of : (JsonElement?)null;
        var (hash, units, named) = (record.Fact, supplement) switch
        {
            (RecordPacketIssued f, null) => (f.ManifestSha256, f.Units, f.Packet == Text(root, "packet")),
            (SupplementIssued f, { } s) => (f.ManifestSha256, f.Units, f.Packet == Text(s, "packet") && f.Number == s.GetProperty("number").GetInt32()),
            _ => ("", (IReadOnlyList<string>)[], false),
        };
        if (!named || packet != Text(root, "packet") || hash != Convert.ToHexStringLower(SHA256.HashData(manifest)) || !units.SequenceEqual(root.GetProperty("units").EnumerateArray().Select(u => u.GetString()!)))
            return $"record {id} is not the record of this packet's issue";
        if (record.Sent.Source != Recorder.DecisionsSource || record.Device != "service" || record.Sent.Assurance != "pin" || record.Person is null || record.Person != Text(root, "issuedBy"))
            return $"record {id} is not of a person who signed with the PIN";

        var log = root.GetProperty("log");
        var (origin, size) = (Text(log, "origin"), log.GetProperty("size").GetInt64());
        if (origin != state.Origin) return $"it rests on the log {origin}, which is not the one in force";
        var note = await store.NoteAsync(origin, size, cancel);
        var signed = note is null ? null : Checkpoint.Open(note, signer.Key.PublicKey);
        return signed is not null && signed.Origin == origin && signed.Size == size && size <= proof.Index && Convert.ToHexStringLower(signed.Root) == Text(log, "root")
            ? null
            : "it names a state of the log that this key did not sign before";
    }

    private async Task<InclusionProof> ProofAsync(Guid record, SealedCheckpoint state, CancellationToken cancel)
    {
        try
        {
            return (await reader.ProveAsync([record], state, cancel))[0];
        }
        catch (KeyNotFoundException)
        {
            throw new NotSealedYetException();
        }
    }

    /// <summary>The record is not among the leaves signed so far.</summary>
    private sealed class NotSealedYetException : Exception;

    private static string? Text(JsonElement of, string name) => of.TryGetProperty(name, out var value) ? value.GetString() : null;

    [LoggerMessage(LogLevel.Information, "Signed the manifest of packet {Packet}")]
    private static partial void LogSigned(ILogger logger, string packet);

    [LoggerMessage(LogLevel.Error, "Refused to sign the manifest of packet {Packet}: {Why}")]
    private static partial void LogRefused(ILogger logger, string packet, string why);

    [LoggerMessage(LogLevel.Warning, "Signing of packets waits: {Why}")]
    private static partial void LogWaits(ILogger logger, string why);
}
