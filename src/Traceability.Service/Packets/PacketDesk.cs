using System.Globalization;
using System.Security.Cryptography;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Log;
using Traceability.Service.Operations;
using Traceability.Service.Recording;

namespace Traceability.Service.Packets;

/// <summary>The log's signer did not seal or sign in time; nothing was issued.</summary>
public sealed class PacketNotSealedException(string message) : Exception(message);

/// <summary>
/// Issues packets and their supplements: judges every unit now, on all records as of one log position, waits until those are
/// sealed, builds, has the manifest signed, and keeps what was handed out together with the record that says so. Where a record
/// that bears on the units came meanwhile it begins anew, so that nothing is issued before its last evidence.
/// </summary>
public sealed class PacketDesk(DossierStore dossiers, LogReader log, PacketStore store, Recorder recorder, TimeProvider clock, IConfiguration configuration, ScenarioClock? scenario = null)
{
    /// <summary>How long to wait for the signer. It seals twice a second; longer means that it does not run.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(20);

    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(100);

    // Records that keep arriving would keep it waiting for ever.
    private const int Tries = 3;

    /// <summary>Issues the packet of units.</summary>
    /// <exception cref="PacketRefusedException">Something stops the packet.</exception>
    /// <exception cref="PacketNotSealedException">The signer did not answer.</exception>
    public async Task<IssuedPacket> IssueAsync(IReadOnlyList<string> units, bool draft, string person, CancellationToken cancel)
    {
        for (var i = 0; i < Tries; i++)
        {
            var number = await store.NextNumberAsync(cancel);
            if (await TryAsync(units, at => string.Create(CultureInfo.InvariantCulture, $"PK-{at.Year}-{number:D4}"), draft, person, null, cancel) is { } issued) return issued;
        }

        throw Restless;
    }

    /// <summary>Issues the next supplement to a packet: the forms of its units that say something else than they did.</summary>
    /// <exception cref="PacketRefusedException">Something stops it, or nothing has changed.</exception>
    /// <exception cref="PacketNotSealedException">The signer did not answer.</exception>
    public async Task<IssuedPacket> SupplementAsync(IssuedPacket packet, string person, CancellationToken cancel)
    {
        if (packet.Draft) throw new PacketRefusedException([new("packet", $"{packet.Id} is a draft", "Supplement a packet that was issued.")]);
        if (packet.SupplementTo is { } whole) throw new PacketRefusedException([new("packet", $"{packet.Id} is itself a supplement to {whole}", $"Supplement {whole}.")]);
        for (var i = 0; i < Tries; i++)
        {
            var supplemented = PacketManifest.Next([.. (await store.WithSupplementsAsync(packet.Id, cancel)).Select(z => PacketZip.Read(z, Packet.ManifestName))]);
            var id = string.Create(CultureInfo.InvariantCulture, $"{packet.Id}-S{supplemented.Number}");
            if (await TryAsync(packet.Units, _ => id, false, person, supplemented, cancel) is { } issued) return issued;
        }

        throw Restless;
    }

    private static PacketRefusedException Restless => new([new("units", "records of these units keep arriving while the packet is made", "Wait until the stations have sent what they hold and try again.")]);

    /// <returns>Null when records that bear on the units, or another supplement, came while it was made.</returns>
    private async Task<IssuedPacket?> TryAsync(IReadOnlyList<string> units, Func<DateTimeOffset, string> name, bool draft, string person, Supplemented? supplemented, CancellationToken cancel)
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
        var id = name(now);
        var unsigned = PacketBuilder.Prepare(new PacketRequest(
            id, configuration["Plant:Name"] ?? "The plant", [.. read.Select(d => new PacketUnit(d, Judge.Dossier(d, now)))],
            checkpoint.Note, proofs, key, now, person, draft, Supplements: supplemented));
        var offered = $"{id} {Guid.CreateVersion7(now)}";
        await store.OfferAsync(offered, unsigned.Manifest, cancel);
        var packet = unsigned.Signed(await SignatureAsync(offered, cancel));
        var zip = PacketZip.Write(packet);
        var issued = new IssuedPacket(
            id, now, person, draft, packet.Contract, packet.Units, packet.OpenItems, Convert.ToHexStringLower(SHA256.HashData(zip)), zip.Length,
            packet.Supplement?.Packet, packet.Supplement?.Number, packet.Pending, packet.Supplement?.Answers);

        await using var writing = await recorder.BeginAsync(cancel);
        if (!draft)
        {
            if (supplemented is not null && await PacketStore.SupplementsAsync(writing.Connection, supplemented.Packet, cancel) != supplemented.Number - 1) return null;
            var known = records.Select(r => r.Id).ToHashSet();
            foreach (var dossier in read)
            {
                var newest = await DossierStore.LoadAsync(writing.Connection, dossier.Unit, null, cancel);
                if (PacketBuilder.RecordsOf(newest).Any(r => !known.Contains(r.Id))) return null;
            }

            IFact fact = packet.Supplement is { } made
                ? new SupplementIssued(made.Packet, made.Number, packet.Units, packet.ManifestSha256, made.Pages, made.Answers)
                : new RecordPacketIssued(id, packet.Units, packet.ManifestSha256, packet.Pending);
            await SignedDecision.WriteAsync(writing, fact, person, Guid.CreateVersion7(now), now, scenario, cancel);
        }

        await PacketStore.AddAsync(writing.Connection, issued, zip, cancel);
        await writing.CommitAsync(cancel);
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
