using Traceability.Core.Dossiers;
using Traceability.Core.Judging;
using Traceability.Service.Log;

namespace Traceability.Service.Packets;

/// <summary>One unit as it was read and judged for the packet.</summary>
public sealed record PacketUnit(Dossier Dossier, Judgement Judgement);

/// <summary>Everything a packet is made from. The same request gives the same files, apart from the PDF's own metadata.</summary>
/// <param name="Packet">The packet's number: letters, digits, dots and hyphens.</param>
/// <param name="CheckpointNote">The signed checkpoint that covers every record of the packet.</param>
/// <param name="Proofs">A proof for every record of the packet under that checkpoint; more do no harm.</param>
/// <param name="LogPublicKey">32 bytes of the key that signs checkpoints and manifests.</param>
/// <param name="IssuedBy">Person id of who issues it.</param>
/// <param name="Draft">For the plant's own review: every page and the file name say so.</param>
/// <param name="Names">Names by person id, where the plant's register gives them for this purpose; ids stand alone otherwise.</param>
public sealed record PacketRequest(
    string Packet, string Plant, IReadOnlyList<PacketUnit> Units, string CheckpointNote, IReadOnlyCollection<InclusionProof> Proofs,
    byte[] LogPublicKey, DateTimeOffset IssuedAt, string IssuedBy, bool Draft = false,
    PacketTemplate? Template = null, IReadOnlyDictionary<string, string>? Names = null);

/// <summary>One thing that stops a packet, with what to do about it.</summary>
public sealed record PacketProblem(string Field, string Limit, string Remedy)
{
    public override string ToString() => $"{Field}: {Limit}. {Remedy}";
}

/// <summary>The packet was not made.</summary>
public sealed class PacketRefusedException(IReadOnlyList<PacketProblem> problems)
    : Exception(string.Join("; ", problems.Select(p => p.ToString())))
{
    public IReadOnlyList<PacketProblem> Problems { get; } = problems;
}

/// <summary>A file of a packet.</summary>
public sealed record PacketFile(string Name, byte[] Bytes);

/// <summary>A packet as made: its files in their order.</summary>
/// <param name="OpenItems">Findings that were not settled when it was made.</param>
public sealed record Packet(string Id, bool Draft, string Contract, IReadOnlyList<string> Units, int OpenItems, IReadOnlyList<PacketFile> Files)
{
    public byte[] this[string name] => Files.First(f => f.Name == name).Bytes;

    /// <summary>Name under which the ZIP is handed out; a draft says so.</summary>
    public string ZipName => (Draft ? "DRAFT-" : "") + Id + ".zip";

    /// <summary>Name under which the PDF is handed out; a draft says so. Inside the packet it is always <see cref="Pdf"/>.</summary>
    public string PdfName => (Draft ? "DRAFT-" : "") + Id + ".pdf";

    public const string Pdf = "packet.pdf", RecordsName = "records.jsonl", FindingsName = "findings.json", ProofsName = "proofs.json",
        CheckpointName = "checkpoint.txt", ManifestName = "manifest.json", SignatureName = "manifest.sig", SumsName = "SHA256SUMS";
}
