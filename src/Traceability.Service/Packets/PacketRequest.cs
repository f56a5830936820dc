using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Service.Log;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Packets;

/// <summary>One unit as it was read and judged for the packet.</summary>
public sealed record PacketUnit(Dossier Dossier, Judgement Judgement);

/// <summary>Where a form of a unit stands in an issued document, pages from 1, and the SHA-256 of what it says.</summary>
public sealed record FormPages(string Document, int From, int Through, string Content);

/// <summary>The issued packet that a supplement supplements, with the supplements before it.</summary>
/// <param name="Number">Number of the supplement, from 1.</param>
/// <param name="ManifestSha256">Of the packet's manifest, lower-case hex.</param>
/// <param name="Standing">Where each form of each unit stands at present, by unit and form number.</param>
/// <param name="Pending">What the packet said is still to come and no supplement has answered.</param>
public sealed record Supplemented(string Packet, int Number, string ManifestSha256, IReadOnlyDictionary<(string Unit, string Form), FormPages> Standing, IReadOnlyList<PendingItem> Pending);

/// <summary>Everything a packet is made from. The same request gives the same files, apart from the PDF's own metadata.</summary>
/// <param name="Packet">The packet's number: letters, digits, dots and hyphens.</param>
/// <param name="CheckpointNote">The signed checkpoint that covers every record of the packet.</param>
/// <param name="Proofs">A proof for every record of the packet under that checkpoint; more do no harm.</param>
/// <param name="LogPublicKey">32 bytes of the key that signs checkpoints and manifests.</param>
/// <param name="IssuedBy">Person id of who issues it.</param>
/// <param name="Draft">For the plant's own review: every page and the file name say so.</param>
/// <param name="Supplements">What it supplements; null for a packet of its own.</param>
/// <param name="Enrolments">Records of how the devices were enrolled that signed records of the packet: whoever checks a signature finds the key there.</param>
/// <param name="Names">Names by person id, where the plant's register gives them for this purpose; ids stand alone otherwise.</param>
public sealed record PacketRequest(
    string Packet, string Plant, IReadOnlyList<PacketUnit> Units, string CheckpointNote, IReadOnlyCollection<InclusionProof> Proofs,
    byte[] LogPublicKey, DateTimeOffset IssuedAt, string IssuedBy, bool Draft = false,
    PacketTemplate? Template = null, IReadOnlyDictionary<string, string>? Names = null, Supplemented? Supplements = null, IReadOnlyList<Record>? Enrolments = null);

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
/// <param name="Pending">Of those, the results that the contract allows to come after shipment.</param>
/// <param name="Supplement">What it answers and replaces, where it is a supplement.</param>
public sealed record Packet(
    string Id, bool Draft, string Contract, IReadOnlyList<string> Units, int OpenItems, IReadOnlyList<PendingItem> Pending, SupplementMade? Supplement, IReadOnlyList<PacketFile> Files)
{
    /// <summary>SHA-256 of the manifest, lower-case hex.</summary>
    public string ManifestSha256 => Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(this[ManifestName]));

    /// <summary>The PDF, or its parts in order.</summary>
    public IEnumerable<PacketFile> Pdfs => Files.Where(f => f.Name.EndsWith(".pdf", StringComparison.Ordinal));

    public byte[] this[string name] => Files.First(f => f.Name == name).Bytes;

    /// <summary>Name under which the ZIP is handed out; a draft says so.</summary>
    public string ZipName => (Draft ? "DRAFT-" : "") + Id + ".zip";

    /// <summary>Name under which the PDF is handed out; a draft says so. Inside the packet it is always <see cref="Pdf"/>.</summary>
    public string PdfName => (Draft ? "DRAFT-" : "") + Id + ".pdf";

    /// <summary>Name of a part of a PDF that was split, from 1.</summary>
    public static string Part(int number) => string.Create(System.Globalization.CultureInfo.InvariantCulture, $"packet-{number}.pdf");

    public const string Pdf = "packet.pdf", RecordsName = "records.jsonl", FindingsName = "findings.json", ProofsName = "proofs.json",
        CheckpointName = "checkpoint.txt", ManifestName = "manifest.json", SignatureName = "manifest.sig", SumsName = "SHA256SUMS",
        IssueRecordName = "issue-record.jsonl", IssueProofName = "issue-proof.json", IssueCheckpointName = "issue-checkpoint.txt", SuccessionName = "succession.txt";
}

/// <summary>A form that a supplement brings, and the pages it takes the place of; null where no document had it.</summary>
public sealed record ReplacedForm(string Unit, string Form, FormPages? Replaces);

/// <summary>What a supplement does to the packet it supplements.</summary>
public sealed record SupplementMade(string Packet, int Number, IReadOnlyList<ReplacedForm> Forms, IReadOnlyList<PendingItem> Answers)
{
    /// <summary>"PK-2026-0001 pages 4, 9-11; PK-2026-0001-S1 page 3", cut to what a record can hold.</summary>
    public string Pages
    {
        get
        {
            const int longest = 300;
            var text = string.Join("; ", Forms.Select(f => f.Replaces).OfType<FormPages>().GroupBy(p => p.Document, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal)
                .Select(g => $"{g.Key} {Runs([.. g.SelectMany(p => Enumerable.Range(p.From, p.Through - p.From + 1)).Distinct().Order()])}"));
            return text.Length == 0 ? "none" : text.Length <= longest ? text : text[..(longest - 27)] + "..., in full in its manifest";
        }
    }

    private static string Runs(IReadOnlyList<int> pages)
    {
        var runs = new List<string>();
        for (var i = 0; i < pages.Count;)
        {
            var end = i;
            while (end + 1 < pages.Count && pages[end + 1] == pages[end] + 1) end++;
            runs.Add(i == end ? Text(pages[i]) : $"{Text(pages[i])}-{Text(pages[end])}");
            i = end + 1;
        }

        return (pages.Count == 1 ? "page " : "pages ") + string.Join(", ", runs);
    }

    private static string Text(int page) => page.ToString(System.Globalization.CultureInfo.InvariantCulture);
}
