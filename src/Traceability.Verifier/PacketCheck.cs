using System.Globalization;
using System.Runtime.InteropServices;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using static Traceability.Verifier.Texts;

namespace Traceability.Verifier;

/// <summary>What the caller holds from elsewhere.</summary>
/// <param name="Key">The plant's public key.</param>
/// <param name="Kept">A checkpoint of the log, got before.</param>
/// <param name="Consistency">The log's answer that one of the two checkpoints continues the other.</param>
/// <param name="Of">The packet that this one should be a supplement to.</param>
/// <param name="Witnesses">Keys of the witnesses whose cosignatures are demanded.</param>
/// <param name="Successions">What the keys of earlier logs signed for their successors, beside what the packet carries.</param>
internal sealed record FromElsewhere(
    PublicKey? Key = null, Note? Kept = null, byte[]? Consistency = null, PacketFiles? Of = null, IReadOnlyList<Witness.Cosigner>? Witnesses = null, string Successions = "");

/// <summary>All checks of one packet.</summary>
internal sealed partial class PacketCheck
{
    private const string Records = "records.jsonl", Findings = "findings.json", Proofs = "proofs.json", Checkpoint = "checkpoint.txt",
        Manifest = "manifest.json", Signature = "manifest.sig", Sums = "SHA256SUMS",
        IssueRecord = "issue-record.jsonl", IssueProof = "issue-proof.json", IssueCheckpoint = "issue-checkpoint.txt", SuccessionFile = "succession.txt";

    private const string Pdf = "packet.pdf";

    /// <summary>Forms of a packet: with the record of its issue; as made before there were such records; a draft, which is none.</summary>
    private const string Format = "traceability-packet/2", BeforeIssueRecords = "traceability-packet/1", DraftFormat = "traceability-draft/1";

    /// <summary>Faults of lines after which a file is not read on: it is not what it should be.</summary>
    private const int MostFaults = 200;

    private static readonly string[] s_draft = [Records, Findings, Proofs, Checkpoint, Manifest, Sums];
    private static readonly string[] s_before = [.. s_draft, Signature];
    private static readonly string[] s_packet = [.. s_before, IssueRecord, IssueProof, IssueCheckpoint];

    private readonly PacketFiles _packet;
    private readonly SortedDictionary<string, PacketFile> _files;
    private readonly Report _report;
    private readonly Dictionary<string, RecordLine> _records = new(StringComparer.Ordinal);
    private readonly HashSet<string> _asInManifest = new(StringComparer.Ordinal);
    private readonly DeviceSignatures _devices = new();
    private string? _format;

    private PacketCheck(PacketFiles packet, Report report)
    {
        (_packet, _files, _report) = (packet, packet.Found, report);
    }

    internal static Report Run(PacketFiles packet, FromElsewhere held)
    {
        var report = new Report();
        var check = new PacketCheck(packet, report);
        try
        {
            check.All(held);
        }
        catch (PacketFormException e)
        {
            report.Stopped("the packet", e.Message);
        }

        return report;
    }

    private void All(FromElsewhere held)
    {
        ReadSubject();
        var issued = _format == Format;
        _report.Check("files: all there, no others", CheckFiles);
        _report.Check("SHA256SUMS: every file as listed", CheckSums);
        var checkpoint = ReadCheckpoint(Checkpoint);
        if (checkpoint is not null)
        {
            (_report.Origin, _report.Size, _report.Root) = (checkpoint.Origin, checkpoint.Size, checkpoint.Hex);
            held = held with { Key = Followed(held, checkpoint.Origin) };
        }

        _report.Check("manifest.json: what it is of, and every file as listed, by SHA-256 and size", () => CheckManifest(checkpoint));
        CheckSupplement(held.Of);
        if (held.Key is not null)
        {
            if (_format != DraftFormat)
            {
                _report.Check("manifest.sig: signed by the key you gave", () => CheckSignature(checkpoint, held.Key));
            }

            _report.Check("checkpoint.txt: signed by the key you gave", () => CheckCheckpointSignature(Checkpoint, checkpoint, held.Key));
        }

        if (held.Kept is not null)
        {
            CheckKept(checkpoint, held.Kept, held.Consistency, held.Key);
        }

        _report.Check("records.jsonl: every line in the form that is hashed, its id that of its event", ReadRecords);
        _devices.Check(Records, _report);
        var last = "";
        _report.Check("proofs.json: every record leads to the signed root, and their times rise along the log", () => last = CheckProofs(checkpoint));
        _report.Check("findings.json: each unit has its judgement, the one the manifest lists, and every record it names is here", CheckFindings);
        if (issued)
        {
            _report.Check("issue-record.jsonl: the record of who issued this packet is in the log that goes on from its checkpoint", () => CheckIssue(checkpoint, held.Key, last));
        }
        else if (_format == BeforeIssueRecords)
        {
            _report.Remarks.Add("Made before issue records: no record in the log says who issued it. The signature of the manifest alone stands for that.");
        }

        if (held.Witnesses is { Count: > 0 } witnesses)
        {
            CheckWitnesses(issued ? ReadCheckpoint(IssueCheckpoint) : checkpoint, witnesses);
        }

        NotProved(held);
    }

    /// <summary>The key that the log's own was handed down to by the one from elsewhere; that one where no statement leads here.</summary>
    private PublicKey? Followed(FromElsewhere held, string origin)
    {
        if (held.Key is null)
        {
            return null;
        }

        var carried = _files.TryGetValue(SuccessionFile, out var file) ? Encoding.UTF8.GetString(file.Bytes(1 << 20)) : "";
        return Succession.Follow(held.Key, held.Successions + carried, origin, _report.Remarks);
    }

    /// <summary>That each witness cosigned the last checkpoint of the packet, which by its proofs covers everything before it.</summary>
    private void CheckWitnesses(Note? last, IReadOnlyList<Witness.Cosigner> witnesses)
    {
        foreach (var witness in witnesses)
        {
            if (last?.CosignedBy(witness) is { } at)
            {
                _report.Checked.Add(string.Create(CultureInfo.InvariantCulture, $"cosigned by witness {witness.Name} at {DateTimeOffset.FromUnixTimeSeconds(at):yyyy-MM-dd'T'HH:mm:ss'Z'}: it saw this log grow to {last.Size} records"));
            }
            else
            {
                _report.NotProvedBecause.Add($"The packet carries no cosignature of witness {witness.Name}. It was issued while the witness could not be reached, or the log was never shown to it: ask the witness.");
            }
        }
    }

    private void NotProved(FromElsewhere held)
    {
        if (held.Key is null)
        {
            _report.NotProvedBecause.Add("No signature was checked, because no key from elsewhere was given: anybody can make such files. Ask the plant for its key on another way and give it with --key.");
        }
        else if (held.Key.Name is null)
        {
            _report.NotProvedBecause.Add($"The signatures are of the key you gave, but of which log it is the key nobody said; the packet says {_report.Origin}. "
                + "Give the key as the line name+hash+base64, or the name of the log with --origin.");
        }
    }

    private void ReadSubject()
    {
        ReadJson(Manifest, 8 << 20, manifest =>
        {
            _format = Text(manifest, "format");
            var pending = Array(manifest, "pending").Select(p => new StillPending(Text(p, "unit") ?? "", Text(p, "requirement") ?? "", Text(p, "subject") ?? "")).ToList();
            _report.About = new Subject(
                Text(manifest, "packet"), Text(manifest, "contract"), Strings(manifest, "units") ?? [], Text(manifest, "issuedAt"), Text(manifest, "issuedBy"),
                _format == DraftFormat || Member(manifest, "draft").ValueKind == JsonValueKind.True, pending, Text(Member(manifest, "supplement"), "packet"));
        });
    }

    private void CheckFiles()
    {
        var parts = _format == DraftFormat ? s_draft : _format == BeforeIssueRecords ? s_before : s_packet;
        foreach (var missing in parts.Where(p => !_files.ContainsKey(p)))
        {
            _report.Wrong(missing, "The file is missing.");
        }

        // One PDF, or its parts numbered from 1.
        var split = _files.Keys.Where(n => PartName().IsMatch(n)).ToList();
        string[] pdfs = _files.ContainsKey(Pdf) || split.Count == 0 ? [Pdf] : [.. Enumerable.Range(1, split.Count).Select(i => string.Create(CultureInfo.InvariantCulture, $"packet-{i}.pdf"))];
        foreach (var missing in pdfs.Where(p => !_files.ContainsKey(p)))
        {
            _report.Wrong(missing, "The file is missing.");
        }

        // There is one only where the log goes on from another; each statement in it is signed by itself.
        string[] succession = _format == Format ? [SuccessionFile] : [];
        foreach (var other in _files.Keys.Except(parts).Except(pdfs).Except(succession).Concat(_packet.Strange))
        {
            _report.Wrong(other, "The file does not belong in a packet.");
        }
    }

    [GeneratedRegex(@"\Apacket-[1-9][0-9]{0,3}\.pdf\z")]
    private static partial Regex PartName();

    private void CheckSums()
    {
        if (!_files.TryGetValue(Sums, out var sums))
        {
            return;
        }

        var listed = new HashSet<string>(StringComparer.Ordinal);
        var number = 0;
        foreach (var line in Encoding.UTF8.GetString(sums.Bytes(1 << 20)).Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            number++;
            if (line.Length < 67 || line[64] != ' ' || line[65] is not (' ' or '*') || !listed.Add(line[66..]))
            {
                _report.Wrong(Sums, "The line is not a hash, two blanks and a name, or names a file again.", number);
                continue;
            }

            if (_files.TryGetValue(line[66..], out var file) && file.Sha256 != line[..64])
            {
                _report.Wrong(line[66..], $"The file was changed: SHA256SUMS says {line[..64]}, it is {file.Sha256}.");
            }
        }

        foreach (var name in _files.Keys.Where(n => n != Sums && !listed.Contains(n)))
        {
            _report.Wrong(Sums, $"{name} is not listed.");
        }

        foreach (var name in listed.Where(n => !_files.ContainsKey(n)))
        {
            _report.Wrong(Sums, $"{name} is listed and not here.");
        }
    }

    private void CheckManifest(Note? checkpoint) => ReadJson(Manifest, 8 << 20, manifest =>
    {
        if (checkpoint is not null)
        {
            MustBeOf(checkpoint, Member(manifest, "log"), Manifest);
        }

        if (!Canonical.Is(_files[Manifest].Bytes(8 << 20), manifest))
        {
            _report.Wrong(Manifest, "It is not in RFC 8785 form.");
        }

        if (_format is not (Format or BeforeIssueRecords or DraftFormat))
        {
            _report.Wrong(Manifest, $"The format is {_format ?? "not given"}; this program knows {Format}, {BeforeIssueRecords} and {DraftFormat}.");
        }

        CheckSubject(manifest);
        var listed = new HashSet<string>(StringComparer.Ordinal);
        foreach (var entry in Object(manifest, "files"))
        {
            listed.Add(entry.Name);
            var (sha256, size) = (Text(entry.Value, "sha256"), Number(entry.Value, "size"));
            if (!_files.TryGetValue(entry.Name, out var file))
            {
                _report.Wrong(Manifest, $"{entry.Name} is listed and not here.");
            }
            else if (file.Sha256 != sha256)
            {
                _report.Wrong(entry.Name, $"The file is not the one the manifest was made over: listed SHA-256 {sha256}, it is {file.Sha256}.");
            }
            else if (file.Size != size)
            {
                _report.Wrong(entry.Name, $"The manifest says {size} bytes, it has {file.Size}.");
            }
            else
            {
                _asInManifest.Add(entry.Name);
            }
        }

        // What came after it cannot be listed in it; the record of its issue names the manifest instead.
        foreach (var name in _files.Keys.Where(n => n is not (Manifest or Signature or Sums or IssueRecord or IssueProof or IssueCheckpoint or SuccessionFile) && !listed.Contains(n)))
        {
            _report.Wrong(Manifest, $"{name} is not listed.");
        }
    });

    private void CheckSubject(JsonElement manifest)
    {
        foreach (var name in (string[])["contract", "issuedAt", .. _format == BeforeIssueRecords ? (string[])[] : ["packet", "issuedBy"]])
        {
            if (string.IsNullOrEmpty(Text(manifest, name)))
            {
                _report.Wrong(Manifest, $"It does not say its {name}.");
            }
        }

        if (Strings(manifest, "units") is not { Count: > 0 } units || units.Any(u => u.Length == 0) || units.Distinct(StringComparer.Ordinal).Count() != units.Count)
        {
            _report.Wrong(Manifest, "It does not name its units, each once.");
        }

        if (_format == Format && Member(manifest, "draft").ValueKind != JsonValueKind.False)
        {
            _report.Wrong(Manifest, "A packet that was issued is no draft, and says so; this one does not.");
        }

        if (_format == DraftFormat && Member(manifest, "draft").ValueKind != JsonValueKind.True)
        {
            _report.Wrong(Manifest, "It has the form of a draft and does not say that it is one.");
        }
    }

    private Note? ReadCheckpoint(string name)
    {
        if (!_files.TryGetValue(name, out var file))
        {
            return null;
        }

        if (Note.Read(file.Bytes(SignedText.Most)) is not { } note)
        {
            _report.Wrong(name, "It is not a checkpoint: origin, size and root, each a line, a blank line, and signature lines.");
            return null;
        }

        return note;
    }

    private void MustBeOf(Note note, JsonElement log, string file)
    {
        var (origin, size, root) = (Text(log, "origin"), Number(log, "size"), Text(log, "root"));
        if (origin != note.Origin || size != note.Size || root != note.Hex)
        {
            _report.Wrong(file, $"It speaks of log {origin} at {size} records with root {root}; the checkpoint is of {note.Origin} at {note.Size} with root {note.Hex}.");
        }
    }

    private void CheckSignature(Note? checkpoint, PublicKey key)
    {
        if (!_files.TryGetValue(Manifest, out var manifest) || !_files.TryGetValue(Signature, out var signature))
        {
            return;
        }

        var bytes = signature.Bytes(SignedText.Most);
        if (_format == BeforeIssueRecords)
        {
            if (!key.Signed(manifest.Bytes(8 << 20), bytes))
            {
                _report.Wrong(Signature, "The key you gave did not sign this manifest.json: the manifest was changed after signing, or another key signed it.");
            }

            return;
        }

        // The text names what it is a signature of, so that no signature of another thing can stand here.
        if (SignedText.Read(bytes) is not { } text)
        {
            _report.Wrong(Signature, "It is not a signed text: three lines, a blank line, and signature lines.");
        }
        else if (checkpoint is not null)
        {
            var name = checkpoint.Origin + "/manifest";
            var meant = $"{name}\nrecord packet manifest\n{Convert.ToBase64String(Convert.FromHexString(manifest.Sha256))}\n";
            if (key.IsNotOf(checkpoint.Origin) is { } other)
            {
                _report.Wrong(Signature, other);
            }
            else if (text.Body != meant)
            {
                _report.Wrong(Signature, "It is not of this manifest.json: the manifest was changed after signing, or the signature is of something else.");
            }
            else if (text.NotSignedBecause(key, name) is { } why)
            {
                _report.Wrong(Signature, "The key you gave did not sign this manifest.json. " + why);
            }
        }
    }

    private void CheckCheckpointSignature(string file, Note? checkpoint, PublicKey key)
    {
        if (checkpoint?.NotSignedBecause(key) is { } why)
        {
            _report.Wrong(file, why);
        }
    }

    /// <summary>Holds the checkpoint from elsewhere against the packet's.</summary>
    private void CheckKept(Note? checkpoint, Note kept, byte[]? consistency, PublicKey? key)
    {
        const string yours = "the checkpoint you hold";
        if (checkpoint is null)
        {
            return;
        }

        if (key is not null && kept.NotSignedBecause(key) is { } why)
        {
            _report.Wrong(yours, why);
            return;
        }

        if (checkpoint.Origin != kept.Origin)
        {
            _report.Wrong(Checkpoint, $"It is of the log {checkpoint.Origin}, the checkpoint you hold of {kept.Origin}.");
            return;
        }

        if (checkpoint.Size == kept.Size)
        {
            if (!checkpoint.Root.AsSpan().SequenceEqual(kept.Root))
            {
                _report.Wrong(Checkpoint, $"Two histories: at {kept.Size} records the checkpoint you hold has another root ({kept.Hex}).");
                return;
            }

            _report.Checked.Add("checkpoint.txt: the same as the checkpoint you hold");
            return;
        }

        var (older, newer) = checkpoint.Size < kept.Size ? (checkpoint, kept) : (kept, checkpoint);
        if (consistency is null)
        {
            _report.NotProvedBecause.Add(
                $"The checkpoint you hold is of {kept.Size} records, the packet's of {checkpoint.Size}, and nothing shows that one continues the other. The log's answer to "
                + $"/v1/log/consistency?from={older.Size}&to={newer.Size} shows it; give it with --consistency.");
        }
        else if (!Continues(older, newer, consistency))
        {
            _report.Wrong(Checkpoint, $"The consistency answer does not show that the log of {newer.Size} records begins with the log of {older.Size} records.");
        }
        else
        {
            _report.Checked.Add($"checkpoint.txt: the log of {newer.Size} records begins with the log of {older.Size} records");
        }
    }

    private static bool Continues(Note older, Note newer, byte[] answer)
    {
        try
        {
            using var parsed = Parse(answer);
            return Hashes(parsed.RootElement, "hashes") is { } hashes && Tree.Continues(older.Size, newer.Size, older.Root, newer.Root, hashes);
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException)
        {
            return false;
        }
    }

    private void ReadRecords()
    {
        if (!_files.TryGetValue(Records, out var file))
        {
            return;
        }

        var (number, faults) = (0, 0);
        file.Read(stream =>
        {
            foreach (var bytes in RecordLine.Lines(stream))
            {
                var line = RecordLine.Read(++number, bytes);
                _report.Records++;
                _devices.Add(line);
                if (line.Continues is not null)
                {
                    faults++;
                    _report.Wrong(Records, "The line is not a record: it is the start of a log.", line.Number);
                }

                foreach (var fault in line.Faults)
                {
                    faults++;
                    _report.Wrong(Records, $"{line.Name}: {fault}", line.Number, line.Id);
                }

                if (line.Id is not null && !_records.TryAdd(line.Id, line))
                {
                    faults++;
                    _report.Wrong(Records, $"{line.Name} is already in line {_records[line.Id].Number}.", line.Number, line.Id);
                }

                if (faults > MostFaults)
                {
                    throw new PacketFormException($"{Records} has more than {MostFaults} faults and was not read on.");
                }
            }
        });

        if (number == 0)
        {
            _report.Wrong(Records, "There is no record.");
        }
    }

    /// <returns>When the last of the records in the log was recorded.</returns>
    private string CheckProofs(Note? checkpoint)
    {
        if (checkpoint is null)
        {
            return "";
        }

        var proved = new HashSet<string>(StringComparer.Ordinal);
        var times = new List<(long Index, RecordLine Record)>();
        var readable = ReadJson(Proofs, Most, proofs =>
        {
            MustBeOf(checkpoint, proofs, Proofs);
            foreach (var proof in Array(proofs, "proofs"))
            {
                var id = Text(proof, "record");
                if (id is null || !proved.Add(id) || !_records.TryGetValue(id, out var record))
                {
                    _report.Wrong(Proofs, $"A proof is of record {id ?? "(none)"}, which records.jsonl does not have, or which has a proof already.", null, id);
                    continue;
                }

                if (Number(proof, "index") is not { } index || Hashes(proof, "hashes") is not { } hashes
                    || !Tree.Includes(index, checkpoint.Size, record.Leaf, hashes, checkpoint.Root))
                {
                    var (file, which) = _asInManifest.Contains(Records) == _asInManifest.Contains(Proofs)
                        ? (Records, "The record or its proof was changed")
                        : _asInManifest.Contains(Proofs) ? (Records, "The record was changed") : (Proofs, "The proof was changed");
                    _report.Wrong(file, $"{which}: {record.Name} is not in the log as it stands here.", file == Records ? record.Number : null, id);
                    continue;
                }

                times.Add((index, record));
            }
        });
        if (!readable)
        {
            return "";
        }

        foreach (var record in _records.Values.Where(r => !proved.Contains(r.Id!)).OrderBy(r => r.Number))
        {
            _report.Wrong(Proofs, $"There is no proof of {record.Name}, line {record.Number} of {Records}.", null, record.Id);
        }

        var last = "";
        foreach (var (index, record) in times.OrderBy(t => t.Index))
        {
            if (string.CompareOrdinal(record.RecordedAt ?? "", last) < 0)
            {
                _report.Wrong(Records, $"{record.Name} stands at place {index} of the log and says that it was recorded at {record.RecordedAt}, before one that stands in front of it ({last}).", record.Number, record.Id);
            }

            last = string.CompareOrdinal(record.RecordedAt, last) > 0 ? record.RecordedAt! : last;
        }

        return last;
    }

    private void CheckFindings()
    {
        var judgements = new Dictionary<string, string>(StringComparer.Ordinal);
        ReadJson(Findings, Most, findings =>
        {
            Cited(findings, "");
            foreach (var judgement in findings.EnumerateArray())
            {
                if (Text(judgement, "unit") is not { } unit || !judgements.TryAdd(unit, Convert.ToHexStringLower(SHA256.HashData(JsonMarshal.GetRawUtf8Value(judgement)))))
                {
                    _report.Wrong(Findings, $"It holds a judgement of {(Text(judgement, "unit") is { } twice ? twice + " twice" : "no unit")}.");
                }
            }
        });
        ReadJson(Manifest, 8 << 20, manifest =>
        {
            var units = (Strings(manifest, "units") ?? []).ToHashSet(StringComparer.Ordinal);
            var listed = new HashSet<string>(StringComparer.Ordinal);
            foreach (var entry in Object(manifest, "judgements"))
            {
                listed.Add(entry.Name);
                if (!units.Contains(entry.Name))
                {
                    _report.Wrong(Manifest, $"It lists a judgement of unit {entry.Name}, which is none of its units.");
                }
                else if (!judgements.TryGetValue($"unit:{entry.Name}", out var hash))
                {
                    _report.Wrong(Findings, $"The manifest lists a judgement of unit {entry.Name}, which is not here.");
                }
                else if (entry.Value.ValueKind != JsonValueKind.String || hash != entry.Value.GetString())
                {
                    _report.Wrong(Findings, $"The judgement of unit {entry.Name} is not the one the manifest lists.");
                }
            }

            foreach (var unit in units.Where(u => !listed.Contains(u)))
            {
                _report.Wrong(Manifest, $"It lists no judgement of unit {unit}, which is one of its units.");
            }

            foreach (var other in judgements.Keys.Where(j => !j.StartsWith("unit:", StringComparison.Ordinal) || !units.Contains(j[5..])))
            {
                _report.Wrong(Findings, $"It holds a judgement of {other}, which is none of the packet's units.");
            }
        });
    }

    private void Cited(JsonElement value, string path)
    {
        switch (value.ValueKind)
        {
            case JsonValueKind.Object:
                foreach (var member in value.EnumerateObject())
                {
                    Cited(member.Value, path.Length == 0 ? member.Name : $"{path}.{member.Name}");
                }

                break;
            case JsonValueKind.Array:
                var i = 0;
                foreach (var item in value.EnumerateArray())
                {
                    Cited(item, string.Create(CultureInfo.InvariantCulture, $"{path}[{i++}]"));
                }

                break;
            case JsonValueKind.String when Guid.TryParseExact(value.GetString(), "D", out var id):
                _report.Citations++;
                if (!_records.ContainsKey(id.ToString("D")))
                {
                    _report.Wrong(Findings, $"{path} names record {id:D}, which {Records} does not have.", null, id.ToString("D"));
                }

                break;
        }
    }

    private bool ReadJson(string name, long most, Action<JsonElement> use)
    {
        if (!_files.TryGetValue(name, out var file))
        {
            return false;
        }

        try
        {
            using var parsed = Parse(file.Bytes(most));
            if (parsed.RootElement.ValueKind == (name == Findings ? JsonValueKind.Array : JsonValueKind.Object))
            {
                use(parsed.RootElement);
                return true;
            }

            _report.Wrong(name, $"It is not a JSON {(name == Findings ? "array" : "object")}.");
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException)
        {
            // The second where a text holds half a surrogate pair.
            _report.Wrong(name, $"It is not a JSON text as a packet has it: {e.Message}");
        }

        return false;
    }
}
