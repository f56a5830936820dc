using System.Text;
using Traceability.Service.Packets.Pages;

namespace Traceability.Service.Packets;

/// <summary>
/// Makes a record packet: the PDF an agency reads and, beside it, the exact records, judgements, proofs and sums it rests on.
/// Pure: no clock, no store, no network.
/// </summary>
public static class PacketBuilder
{
    /// <exception cref="PacketRefusedException">
    /// Something stops the packet: an unsealed record, units of two contracts, an unconfirmed limit. Names each and what to do.
    /// </exception>
    public static Packet Build(PacketRequest request)
    {
        var matter = new PacketMatter(request);
        var files = new List<PacketFile>
        {
            new(Packet.Pdf, PacketDocument.Write(matter)),
            new(Packet.RecordsName, PacketFiles.Records(matter.Records)),
            new(Packet.FindingsName, PacketFiles.Findings(matter.Units.Select(u => u.Judgement))),
            new(Packet.ProofsName, PacketFiles.Proofs(matter.Checkpoint, matter.Proofs)),
            new(Packet.CheckpointName, Encoding.UTF8.GetBytes(request.CheckpointNote)),
        };
        var manifest = PacketFiles.Manifest(request, matter, files);
        files.Add(new(Packet.ManifestName, manifest));
        files.Add(new(Packet.SignatureName, request.Sign(manifest)));
        files.Add(new(Packet.SumsName, PacketFiles.Sums(files)));
        return new Packet(request.Packet, request.Draft, [.. matter.Units.Select(u => u.Id)], files);
    }
}
