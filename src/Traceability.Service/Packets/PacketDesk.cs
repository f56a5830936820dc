using System.Globalization;
using System.Security.Cryptography;
using Traceability.Core.Dossiers;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Log;

namespace Traceability.Service.Packets;

/// <summary>The log's signer did not seal or sign in time; nothing was issued.</summary>
public sealed class PacketNotSealedException(string message) : Exception(message);

/// <summary>
/// Issues packets: judges every unit now, on all records as of one log position, waits until those are sealed, builds,
/// has the manifest signed, keeps what was handed out.
/// </summary>
public sealed class PacketDesk(DossierStore dossiers, LogReader log, PacketStore store, TimeProvider clock, IConfiguration configuration)
{
    /// <summary>How long to wait for the signer. It seals twice a second; longer means that it does not run.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(20);

    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(100);

    /// <exception cref="PacketRefusedException">Something stops the packet.</exception>
    /// <exception cref="PacketNotSealedException">The signer did not answer.</exception>
    public async Task<IssuedPacket> IssueAsync(IReadOnlyList<string> units, bool draft, string person, CancellationToken cancel)
    {
        var position = await dossiers.NewestAsync(cancel);
        var read = new List<Dossier>();
        foreach (var unit in units) read.Add(await dossiers.LoadAsync(Subject.Unit(unit), position, cancel));
        var records = read.SelectMany(PacketBuilder.RecordsOf).DistinctBy(r => r.Id).ToList();
        if (read.FirstOrDefault(d => d.Records.Count == 0) is { } unknown)
            throw new PacketRefusedException([new("units", $"{unknown.Unit.Id} is not a serial that any record names", "Check the mark on the piece.")]);

        var (checkpoint, proofs) = await SealedAsync([.. records.Select(r => r.Id)], cancel);
        var key = await store.LogKeyAsync(checkpoint.Origin, cancel) ?? throw new PacketNotSealedException("The log's signer has not said its public key yet. Start the part with the role signer.");
        // By the plant's own clock on the wall: the offset its stations write.
        var now = clock.GetUtcNow().ToOffset(records.MaxBy(r => r.Position)!.Sent.Time.Offset);
        var number = await store.NextNumberAsync(cancel);
        var id = string.Create(CultureInfo.InvariantCulture, $"PK-{now.Year}-{number:D4}");
        var unsigned = PacketBuilder.Prepare(new PacketRequest(
            id, configuration["Plant:Name"] ?? "The plant", [.. read.Select(d => new PacketUnit(d, Judge.Dossier(d, now)))],
            checkpoint.Note, proofs, key, now, person, draft));
        await store.OfferAsync(id, unsigned.Manifest, cancel);
        var packet = unsigned.Signed(await SignatureAsync(id, cancel));
        var zip = PacketZip.Write(packet);
        var issued = new IssuedPacket(id, now, person, draft, packet.Contract, packet.Units, packet.OpenItems, Convert.ToHexStringLower(SHA256.HashData(zip)), zip.Length);
        await store.AddAsync(issued, zip, cancel);
        return issued;
    }

    private async Task<(SealedCheckpoint Checkpoint, IReadOnlyList<InclusionProof> Proofs)> SealedAsync(Guid[] records, CancellationToken cancel)
    {
        var until = Environment.TickCount64 + (long)Patience.TotalMilliseconds;
        while (true)
        {
            string waitsFor;
            if (await log.LatestAsync(cancel) is { } checkpoint)
            {
                try
                {
                    return (checkpoint, await log.ProveAsync(records, checkpoint, cancel));
                }
                catch (KeyNotFoundException e)
                {
                    waitsFor = e.Message;
                }
            }
            else
            {
                waitsFor = "nothing has been sealed yet";
            }

            if (Environment.TickCount64 > until) throw new PacketNotSealedException($"The records were not sealed within {Patience.TotalSeconds:0} s: {waitsFor}. Check that a part with the role signer runs.");
            await Task.Delay(Pause, cancel);
        }
    }

    private async Task<byte[]> SignatureAsync(string packet, CancellationToken cancel)
    {
        var until = Environment.TickCount64 + (long)Patience.TotalMilliseconds;
        while (true)
        {
            var (signature, refused) = await store.AnswerAsync(packet, cancel);
            if (signature is not null) return signature;
            if (refused is not null) throw new PacketNotSealedException($"The signer refused the manifest: {refused}.");
            if (Environment.TickCount64 > until) throw new PacketNotSealedException($"The signer did not sign within {Patience.TotalSeconds:0} s. Check that a part with the role signer runs.");
            await Task.Delay(Pause, cancel);
        }
    }
}
