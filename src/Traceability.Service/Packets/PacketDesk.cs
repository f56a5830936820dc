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
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Packets;

/// <summary>The log's signer did not seal in time, or refused to sign.</summary>
public sealed class PacketNotSealedException(string message) : Exception(message);

/// <summary>
/// Issues packets and their supplements: judges every unit now, on all records as of one log position, waits until those are
/// sealed, lays out, and then records who issued it, over the manifest's hash, unless a record that bears on the units came
/// meanwhile: then it begins anew, so that nothing is issued before its last evidence. Once that record is sealed the signer
/// signs, and the packet is whole.
/// </summary>
public sealed class PacketDesk(DossierStore dossiers, LogReader log, PacketStore store, PacketSealing sealing, Recorder recorder, RecordReader reader, TimeProvider clock, PlantTime time, IConfiguration configuration, ScenarioClock? scenario = null)
{
    /// <summary>How long to wait for the signer. It seals twice a second; longer means that it does not run.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(20);

    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(100);

    // Records that keep arriving would keep it waiting for ever.
    private const int Tries = 4;

    // Looks at what came meanwhile, each short: most of it bears on other things of the same units' closure and changes nothing.
    private const int Looks = 20;

    /// <summary>Makes a draft for the plant's own review: judged and laid out as a packet is, and neither recorded, sealed nor numbered.</summary>
    /// <exception cref="PacketRefusedException">Something stops it.</exception>
    /// <exception cref="PacketNotSealedException">The records are not sealed yet.</exception>
    public async Task<IssuedPacket> DraftAsync(IReadOnlyList<string> units, string person, CancellationToken cancel)
    {
        var made = await MakeAsync(units, at => $"DRAFT-{at.UtcDateTime.ToString("yyyyMMdd-HHmmss", CultureInfo.InvariantCulture)}-{Guid.NewGuid().ToString("N")[..6]}", true, person, null, cancel);
        var zip = PacketZip.Write(made.Packet.Draft());
        var draft = Issued(made, zip) with { Sha256 = Convert.ToHexStringLower(SHA256.HashData(zip)) };
        await store.AddAsync(draft, zip, cancel);
        return draft;
    }

    /// <summary>Issues the packet of units. Where the signer does not answer in time it is issued all the same, and whole later.</summary>
    /// <exception cref="PacketRefusedException">Something stops the packet.</exception>
    /// <exception cref="PacketNotSealedException">The records were not sealed in time, or the signer refused.</exception>
    public async Task<IssuedPacket> IssueAsync(IReadOnlyList<string> units, string person, CancellationToken cancel)
    {
        for (var i = 0; i < Tries; i++)
        {
            var number = await store.NextNumberAsync(cancel);
            var made = await MakeAsync(units, at => string.Create(CultureInfo.InvariantCulture, $"PK-{at.Year}-{number:D4}"), false, person, null, cancel);
            if (await RecordAsync(made, number, null, cancel)) return await WholeAsync(made.Packet.Unsealed.Id, cancel);
        }

        throw Restless;
    }

    /// <summary>Issues the next supplement to a packet: the forms of its units that say something else than they did.</summary>
    /// <exception cref="PacketRefusedException">Something stops it, or nothing has changed.</exception>
    /// <exception cref="PacketNotSealedException">The records were not sealed in time, or the signer refused.</exception>
    public async Task<IssuedPacket> SupplementAsync(IssuedPacket packet, string person, CancellationToken cancel)
    {
        if (packet.Draft) throw new PacketRefusedException([new("packet", $"{packet.Id} is a draft", "Supplement a packet that was issued.")]);
        if (packet.SupplementTo is { } whole) throw new PacketRefusedException([new("packet", $"{packet.Id} is itself a supplement to {whole}", $"Supplement {whole}.")]);
        for (var i = 0; i < Tries; i++)
        {
            var supplemented = PacketManifest.Next([.. (await store.WithSupplementsAsync(packet.Id, cancel)).Select(z => PacketZip.Read(z, Packet.ManifestName))]);
            var id = string.Create(CultureInfo.InvariantCulture, $"{packet.Id}-S{supplemented.Number}");
            var made = await MakeAsync(packet.Units, _ => id, false, person, supplemented, cancel);
            if (await RecordAsync(made, null, supplemented, cancel)) return await WholeAsync(id, cancel);
        }

        throw Restless;
    }

    private static PacketRefusedException Restless => new([new("units", "records of these units keep arriving while the packet is made", "Wait until the stations have sent what they hold and try again.")]);

    /// <summary>A packet laid out, and what it was made from.</summary>
    private sealed record Made(UnsignedPacket Packet, IReadOnlyList<Dossier> Read, IReadOnlySet<Guid> Records, DateTimeOffset At, string Person);

    private async Task<Made> MakeAsync(IReadOnlyList<string> units, Func<DateTimeOffset, string> name, bool draft, string person, Supplemented? supplemented, CancellationToken cancel)
    {
        var read = await ReadAsync(units, cancel);
        var records = read.SelectMany(PacketBuilder.RecordsOf).DistinctBy(r => r.Id).ToList();
        if (read.FirstOrDefault(d => d.Records.Count == 0) is { } unknown)
            throw new PacketRefusedException([new("units", $"{unknown.Unit.Id} is not a serial that any record names", "Check the mark on the piece.")]);

        var enrolments = await EnrolmentsAsync(records, cancel);
        records.AddRange(enrolments);
        var (checkpoint, proofs) = await SealedAsync([.. records.Select(r => r.Id)], cancel);
        var key = await store.LogKeyAsync(checkpoint.Origin, cancel) ?? throw new PacketNotSealedException("The log's signer has not said its public key yet. Nothing was issued. Start the part with the role signer, and ask again.");
        var now = time.Local(clock.GetUtcNow());
        using var span = Telemetry.Source.StartActivity(Telemetry.LayingOut);
        var packet = PacketBuilder.Prepare(new PacketRequest(
            name(now), configuration["Plant:Name"] ?? "The plant", [.. read.Select(d => new PacketUnit(d, Judge.Dossier(d, now)))],
            checkpoint.Note, proofs, key, now, person, draft, Supplements: supplemented, Enrolments: enrolments));
        return new(packet, read, records.Select(r => r.Id).ToHashSet(), now, person);
    }

    /// <summary>How the devices were enrolled that signed any of the records.</summary>
    private async Task<IReadOnlyList<Record>> EnrolmentsAsync(IReadOnlyList<Record> records, CancellationToken cancel)
    {
        var enrolments = new List<Record>();
        foreach (var device in records.Where(r => r.Signature is not null).Select(r => r.Device).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal))
            enrolments.AddRange(await reader.EnrolmentsAsync(device, cancel));
        return enrolments;
    }

    private async Task<IReadOnlyList<Dossier>> ReadAsync(IReadOnlyList<string> units, CancellationToken cancel)
    {
        var position = await dossiers.NewestAsync(cancel);
        var read = new List<Dossier>();
        foreach (var unit in units) read.Add(await AsRecordedAsync(dossiers, Subject.Unit(unit), position, cancel));
        return read;
    }

    /// <summary>A dossier for what is signed, each record hashed anew.</summary>
    /// <exception cref="PacketRefusedException">One is not as it was recorded.</exception>
    internal static async Task<Dossier> AsRecordedAsync(DossierStore dossiers, Subject subject, long position, CancellationToken cancel)
    {
        try
        {
            return await dossiers.LoadAsRecordedAsync(subject, position, cancel);
        }
        catch (RecordChangedException e)
        {
            throw new PacketRefusedException([new(subject.Kind, $"rests on a record that was changed in the database after it was recorded ({Service.Pages.Words.OfType(e.Record.Type)})", "Call the administrator: restore the database from its backup. Nothing is issued on it.")]);
        }
    }

    /// <summary>
    /// Records who issued the packet and keeps it, in one short transaction that only looks whether anything came since. What
    /// came is read and compared outside of it.
    /// </summary>
    /// <returns>False when records that bear on the units, another packet or another supplement came while it was made.</returns>
    private async Task<bool> RecordAsync(Made made, long? number, Supplemented? supplemented, CancellationToken cancel)
    {
        var (read, packet) = (made.Read, made.Packet.Unsealed);
        byte[] zip;
        using (Telemetry.Source.StartActivity(Telemetry.LayingOut)) zip = PacketZip.Write(packet);
        var id = Guid.CreateVersion7(made.At);
        for (var i = 0; i < Looks; i++)
        {
            await using (var writing = await recorder.BeginAsync(cancel))
            {
                if (await DossierStore.IsUnchangedAsync(writing.Connection, read, cancel))
                {
                    if (supplemented is not null && await PacketStore.SupplementsAsync(writing.Connection, supplemented.Packet, cancel) != supplemented.Number - 1) return false;
                    if (number is not null && await PacketStore.TakeNumberAsync(writing.Connection, cancel) != number) return false;
                    IFact fact = packet.Supplement is { } of
                        ? new SupplementIssued(of.Packet, of.Number, packet.Units, packet.ManifestSha256, of.Pages, of.Answers)
                        : new RecordPacketIssued(packet.Id, packet.Units, packet.ManifestSha256, packet.Pending);
                    var written = await SignedDecision.WriteAsync(writing, fact, made.Person, id, made.At, scenario, cancel);
                    await PacketStore.AddAsync(writing.Connection, Issued(made, zip), zip, cancel);
                    await PacketStore.OfferAsync(writing.Connection, packet.Id, made.Packet.Manifest, written.RecordId, cancel);
                    await writing.CommitAsync(cancel);
                    return true;
                }
            }

            read = await ReadAsync(packet.Units, cancel);
            if (read.SelectMany(PacketBuilder.RecordsOf).Any(r => !made.Records.Contains(r.Id))) return false;
        }

        return false;
    }

    private static IssuedPacket Issued(Made made, byte[] zip)
    {
        var packet = made.Packet.Unsealed;
        return new(packet.Id, made.At, made.Person, packet.Draft, packet.Contract, packet.Units, packet.OpenItems, "", zip.Length, false,
            packet.Supplement?.Packet, packet.Supplement?.Number, packet.Pending, packet.Supplement?.Answers);
    }

    /// <summary>Waits for the seal of what was issued; it stands, whether that comes in time or not.</summary>
    private async Task<IssuedPacket> WholeAsync(string id, CancellationToken cancel)
    {
        var until = Environment.TickCount64 + (long)Patience.TotalMilliseconds;
        while (Environment.TickCount64 < until)
        {
            if (await sealing.WholeAsync(id, cancel) is { } whole) return whole.Packet;
            await Task.Delay(Pause, cancel);
        }

        return (await store.FindAsync(id, cancel))!.Value.Packet;
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

            if (Environment.TickCount64 > until) throw new PacketNotSealedException($"The records were not sealed within {Patience.TotalSeconds:0} s: {waitsFor}. Nothing was issued. Check that a part with the role signer runs, and ask again.");
            await Task.Delay(Pause, cancel);
        }
    }
}
