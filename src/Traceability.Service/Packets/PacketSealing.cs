using System.Security.Cryptography;
using System.Text.Json;
using Traceability.Service.Log;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Packets;

/// <summary>
/// Makes an issued packet whole once the record of its issue is sealed and the signer signed the manifest. Whoever asks for
/// it may do so; it is done once.
/// </summary>
public sealed class PacketSealing(PacketStore store, LogReader log, Cosigning cosigning, CosignatureStore cosignatures, TimeProvider clock)
{
    /// <summary>How long a packet waits for the witnesses after the signer signed it. Our own choice: past that it goes out without them.</summary>
    public static readonly TimeSpan WitnessPatience = TimeSpan.FromSeconds(10);

    /// <summary>The packet with its seal; null while the signature or the seal is still to come.</summary>
    /// <exception cref="PacketNotSealedException">The signer refused the manifest, or the log it belongs to ended.</exception>
    public async Task<(IssuedPacket Packet, byte[] Zip)?> WholeAsync(string id, CancellationToken cancel)
    {
        if (await store.FindAsync(id, cancel) is not { } found) return null;
        if (found.Packet.Draft || found.Packet.Signed) return found;
        var (signature, refused, issue, answeredAt) = await store.AnswerAsync(id, cancel);
        if (refused is not null) throw new PacketNotSealedException($"The signer refused the manifest of {id}: {refused}. Tell the administrator.");
        if (signature is null || issue is null) return null;
        var manifest = PacketZip.Read(found.Zip, Packet.ManifestName);
        var (origin, size) = LogOf(manifest);
        if (await log.LatestAsync(cancel) is not { } checkpoint) return null;
        if (checkpoint.Origin != origin) throw new PacketNotSealedException($"The log {origin} that {id} rests on ended before its seal was whole. Issue a new packet.");
        if (await store.LogKeyAsync(origin, cancel) is not { } key || await store.RecordAsync(issue.Value, cancel) is not { } bytes) return null;
        IReadOnlyList<InclusionProof> proofs;
        try
        {
            proofs = await log.ProveAsync([issue.Value], checkpoint, cancel);
        }
        catch (KeyNotFoundException)
        {
            return null;
        }

        if (await log.ConsistencyAsync(size, checkpoint.Size, cancel) is not { } consistency) return null;
        if (cosigning.HasAny)
        {
            var answers = await cosigning.AskAsync(checkpoint, cancel);
            if (answers.Any(a => a.State != WitnessState.Cosigned) && clock.GetUtcNow() < answeredAt + WitnessPatience) return null;
        }

        var proof = new IssueProof(Record.Read(bytes, 0), await cosignatures.NoteAsync(checkpoint, cancel), proofs[0], consistency.Hashes, await log.SuccessionsAsync(cancel));
        var zip = PacketZip.Write(UnsignedPacket.Seal(PacketZip.Files(found.Zip), origin, key, signature, proof));
        await store.SealAsync(id, zip, Convert.ToHexStringLower(SHA256.HashData(zip)), cancel);
        return await store.FindAsync(id, cancel);
    }

    private static (string Origin, long Size) LogOf(byte[] manifest)
    {
        using var json = JsonDocument.Parse(manifest);
        var state = json.RootElement.GetProperty("log");
        return (state.GetProperty("origin").GetString()!, state.GetProperty("size").GetInt64());
    }
}
