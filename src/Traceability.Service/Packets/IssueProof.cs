using System.Text;
using Traceability.Service.Log;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Packets;

/// <summary>That the record of a packet's issue is in the log which goes on from the packet's own checkpoint.</summary>
/// <param name="Record">The record, which names the manifest by its hash.</param>
/// <param name="CheckpointNote">A signed checkpoint that covers the record.</param>
/// <param name="Consistency">From the packet's checkpoint to this one.</param>
/// <param name="Successions">What the keys of earlier logs signed for their successors, one statement behind the other; empty in the first log.</param>
public sealed record IssueProof(Record Record, string CheckpointNote, InclusionProof Proof, IReadOnlyList<byte[]> Consistency, string Successions = "")
{
    /// <summary>The files that stand for it beside the others.</summary>
    /// <exception cref="ArgumentException">The checkpoint is not of the log's key.</exception>
    internal IReadOnlyList<PacketFile> Files(byte[] publicKey)
    {
        var checkpoint = Checkpoint.Open(CheckpointNote, publicKey) ?? throw new ArgumentException("The checkpoint is not signed by the log's key.", nameof(publicKey));
        return
        [
            new(Packet.IssueRecordName, PacketFiles.Records([Record])),
            new(Packet.IssueProofName, PacketFiles.IssueProof(checkpoint, this)),
            new(Packet.IssueCheckpointName, Encoding.UTF8.GetBytes(CheckpointNote)),
            .. Successions.Length == 0 ? (PacketFile[])[] : [new(Packet.SuccessionName, Encoding.UTF8.GetBytes(Successions))],
        ];
    }
}
