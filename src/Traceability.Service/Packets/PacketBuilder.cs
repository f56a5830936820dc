using System.Text;
using Traceability.Core.Dossiers;
using Traceability.Service.Log;
using Traceability.Service.Packets.Pages;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Packets;

/// <summary>
/// Makes a record packet: the PDF an agency reads and, beside it, the exact records, judgements, proofs and sums it rests on.
/// Pure: no clock, no store, no network.
/// </summary>
public static class PacketBuilder
{
    /// <summary>The records a unit's packet rests on: those that need a proof.</summary>
    public static IReadOnlyList<Record> RecordsOf(Dossier dossier) => UnitMatter.RecordsOf(dossier, Assemble.Unit(dossier));

    /// <summary>Everything but the signature, which its caller gets from whoever holds the log's key.</summary>
    /// <exception cref="PacketRefusedException">
    /// Something stops the packet: an unsealed record, units of two contracts, an unconfirmed limit. Names each and what to do.
    /// </exception>
    public static UnsignedPacket Prepare(PacketRequest request)
    {
        var matter = new PacketMatter(request);
        var laid = PacketDocument.Write(matter);
        var files = new List<PacketFile>(laid.Pdfs)
        {
            new(Packet.RecordsName, PacketFiles.Records(matter.Records)),
            new(Packet.FindingsName, PacketFiles.Findings(matter.Units.Select(u => u.Judgement))),
            new(Packet.ProofsName, PacketFiles.Proofs(matter.Checkpoint, matter.Proofs)),
            new(Packet.CheckpointName, Encoding.UTF8.GetBytes(request.CheckpointNote)),
        };
        files.Add(new(Packet.ManifestName, PacketFiles.Manifest(request, matter, laid, files)));
        return new UnsignedPacket(
            new Packet(request.Packet, request.Draft, matter.ContractId, [.. matter.Units.Select(u => u.Id)], matter.Open.Count(), matter.PendingItems, laid.Supplement, files),
            request.LogPublicKey);
    }
}

/// <summary>A packet that lacks the signature of its manifest and the proof of its issue.</summary>
public sealed class UnsignedPacket(Packet packet, byte[] publicKey)
{
    /// <summary>What its issue is recorded over, by its hash.</summary>
    public byte[] Manifest => packet[Packet.ManifestName];

    /// <summary>As it is so far.</summary>
    public Packet Unsealed => packet;

    /// <summary>A draft is done as it is: nobody signs it.</summary>
    /// <exception cref="InvalidOperationException">It is no draft.</exception>
    public Packet Draft() => packet.Draft ? packet with { Files = WithSums(packet.Files) } : throw new InvalidOperationException("A packet that is issued is signed.");

    /// <exception cref="ArgumentException">The signature is not the log key's over <see cref="Manifest"/>.</exception>
    public Packet Signed(string origin, byte[] signature, IssueProof issue) => packet with { Files = Seal(packet.Files, origin, publicKey, signature, issue) };

    /// <summary>The files of a packet with its seal.</summary>
    /// <exception cref="ArgumentException">The signature is not the log key's over the manifest among them.</exception>
    internal static IReadOnlyList<PacketFile> Seal(IReadOnlyList<PacketFile> files, string origin, byte[] publicKey, byte[] signature, IssueProof issue)
    {
        if (!ManifestNote.IsSigned(signature, origin, files.First(f => f.Name == Packet.ManifestName).Bytes, publicKey))
            throw new ArgumentException("The signature is not of the log's key over this manifest.", nameof(signature));
        return WithSums([.. files, new PacketFile(Packet.SignatureName, signature), .. issue.Files(publicKey)]);
    }

    private static IReadOnlyList<PacketFile> WithSums(IReadOnlyList<PacketFile> files) => [.. files, new PacketFile(Packet.SumsName, PacketFiles.Sums(files))];
}
