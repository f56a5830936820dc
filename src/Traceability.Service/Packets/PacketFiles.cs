using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization;
using Traceability.Core.Records;
using Traceability.Service.Log;

namespace Traceability.Service.Packets;

/// <summary>The machine-readable files beside the PDF; docs/packet-format.md is their contract.</summary>
internal static class PacketFiles
{
    /// <summary>A packet whose issue is a record, with the proof of it; and a draft, which nobody issues.</summary>
    public const string Format = "traceability-packet/2", DraftFormat = "traceability-draft/1";

    /// <summary>Exact bytes, one record a line. Canonical JSON holds no line feed, so a line is a record.</summary>
    public static byte[] Records(IReadOnlyList<Record> records)
    {
        using var stream = new MemoryStream();
        foreach (var record in records)
        {
            stream.Write(record.Bytes.Span);
            stream.WriteByte((byte)'\n');
        }

        return stream.ToArray();
    }

    /// <summary>The judgements as an array in the packet's order of units, each in its own canonical bytes.</summary>
    public static byte[] Findings(IEnumerable<Core.Judging.Judgement> judgements)
    {
        using var stream = new MemoryStream();
        stream.WriteByte((byte)'[');
        var first = true;
        foreach (var judgement in judgements)
        {
            if (!first) stream.WriteByte((byte)',');
            first = false;
            stream.Write(judgement.Bytes);
        }

        stream.WriteByte((byte)']');
        return stream.ToArray();
    }

    /// <summary>A proof for each line of records.jsonl, in the same order.</summary>
    public static byte[] Proofs(Checkpoint checkpoint, IReadOnlyList<InclusionProof> proofs) => Canonical(new
    {
        origin = checkpoint.Origin,
        size = checkpoint.Size,
        root = Hex(checkpoint.Root),
        proofs = proofs.Select(p => new { record = p.RecordId, index = p.Index, hashes = p.Path.Select(Hex) }),
    });

    /// <summary>The proof of the one record of the packet's issue, and that its log goes on from the packet's.</summary>
    public static byte[] IssueProof(Checkpoint checkpoint, IssueProof issue) => Canonical(new
    {
        origin = checkpoint.Origin,
        size = checkpoint.Size,
        root = Hex(checkpoint.Root),
        proofs = new[] { new { record = issue.Proof.RecordId, index = issue.Proof.Index, hashes = issue.Proof.Path.Select(Hex) } },
        consistency = issue.Consistency.Select(Hex),
    });

    public static byte[] Manifest(PacketRequest request, PacketMatter matter, Pages.LaidOut laid, IReadOnlyList<PacketFile> files) => Canonical(new
    {
        format = request.Draft ? DraftFormat : Format,
        packet = request.Packet,
        draft = request.Draft,
        plant = request.Plant,
        contract = matter.ContractId,
        units = matter.Units.Select(u => u.Id),
        judgements = matter.Units.ToDictionary(u => u.Id, u => u.Judgement.Hash),
        judgedInPlant = matter.Units.ToDictionary(u => u.Id, u => u.InPlant),
        template = matter.Template.Id,
        pending = matter.PendingItems,
        pages = laid.Forms.GroupBy(f => f.Key.Unit, StringComparer.Ordinal)
            .ToDictionary(g => g.Key, g => g.ToDictionary(f => f.Key.Form, f => new { from = f.Value.From, through = f.Value.Through, content = f.Value.Content })),
        supplement = laid.Supplement is not { } made ? null : new
        {
            packet = made.Packet,
            number = made.Number,
            manifestSha256 = request.Supplements!.ManifestSha256,
            forms = made.Forms.Select(f => new { unit = f.Unit, form = f.Form, replaces = f.Replaces is not { } r ? null : new { document = r.Document, from = r.From, through = r.Through } }),
            answers = made.Answers,
        },
        issuedAt = request.IssuedAt.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture),
        issuedBy = request.IssuedBy,
        log = new { origin = matter.Checkpoint.Origin, size = matter.Checkpoint.Size, root = Hex(matter.Checkpoint.Root) },
        files = files.ToDictionary(f => f.Name, f => new { sha256 = Hex(SHA256.HashData(f.Bytes)), size = f.Bytes.Length }),
    });

    /// <summary>Lines that <c>sha256sum -c</c> reads.</summary>
    public static byte[] Sums(IEnumerable<PacketFile> files) =>
        Encoding.ASCII.GetBytes(string.Concat(files.Select(f => $"{Hex(SHA256.HashData(f.Bytes))}  {f.Name}\n")));

    private static byte[] Canonical<T>(T value) =>
        CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(value, Json));

    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web) { DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull };

    private static string Hex(byte[] bytes) => Convert.ToHexStringLower(bytes);
}

/// <summary>The ZIP that goes with the PDF.</summary>
public static class PacketZip
{
    // The first moment a ZIP entry can hold: the same files must give the same ZIP whenever it is made.
    private static readonly DateTimeOffset Fixed = new(1980, 1, 1, 0, 0, 0, TimeSpan.Zero);

    /// <summary>The files in the packet's order, fixed times: same files, same bytes.</summary>
    public static byte[] Write(Packet packet) => Write(packet.Files);

    public static byte[] Write(IReadOnlyList<PacketFile> files)
    {
        using var stream = new MemoryStream();
        using (var zip = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            foreach (var file in files)
            {
                var entry = zip.CreateEntry(file.Name, CompressionLevel.Optimal);
                entry.LastWriteTime = Fixed;
                entry.ExternalAttributes = Convert.ToInt32("100644", 8) << 16;
                using var content = entry.Open();
                content.Write(file.Bytes);
            }
        }

        return stream.ToArray();
    }

    /// <summary>The PDF out of a ZIP, or one of its parts; null when it has no such part.</summary>
    public static byte[]? ReadPdf(byte[] zip, int part)
    {
        using var archive = new ZipArchive(new MemoryStream(zip));
        return part == 1 && archive.GetEntry(Packet.Pdf) is not null ? Read(zip, Packet.Pdf) : archive.GetEntry(Packet.Part(part)) is not null ? Read(zip, Packet.Part(part)) : null;
    }

    /// <summary>All files of a ZIP, in its order.</summary>
    public static IReadOnlyList<PacketFile> Files(byte[] zip)
    {
        using var archive = new ZipArchive(new MemoryStream(zip));
        return [.. archive.Entries.Select(e => new PacketFile(e.FullName, Read(zip, e.FullName)))];
    }

    /// <summary>One file out of a ZIP.</summary>
    public static byte[] Read(byte[] zip, string name)
    {
        using var archive = new ZipArchive(new MemoryStream(zip));
        using var content = archive.GetEntry(name)!.Open();
        using var copy = new MemoryStream();
        content.CopyTo(copy);
        return copy.ToArray();
    }
}
