using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;

namespace Traceability.Verifier;

/// <summary>All checks of one packet.</summary>
internal sealed partial class PacketCheck
{
    private const string Records = "records.jsonl", Findings = "findings.json", Proofs = "proofs.json", Checkpoint = "checkpoint.txt",
        Manifest = "manifest.json", Signature = "manifest.sig", Sums = "SHA256SUMS";

    private const string Pdf = "packet.pdf";

    private static readonly string[] s_parts = [Records, Findings, Proofs, Checkpoint, Manifest, Signature, Sums];

    private readonly SortedDictionary<string, byte[]> _files;
    private readonly Report _report = new();
    private readonly Dictionary<string, RecordLine> _records = new(StringComparer.Ordinal);
    private readonly HashSet<string> _asInManifest = new(StringComparer.Ordinal);

    private PacketCheck(SortedDictionary<string, byte[]> files)
    {
        _files = files;
    }

    /// <param name="of">The files of the packet it should be a supplement to; null when none was given.</param>
    internal static Report Run(SortedDictionary<string, byte[]> files, PublicKey? key, Note? kept, byte[]? consistency, SortedDictionary<string, byte[]>? of = null)
    {
        var check = new PacketCheck(files);
        var report = check._report;
        report.Check("files: all there, no others", check.Files);
        report.Check("SHA256SUMS: every file as listed", check.CheckSums);
        var checkpoint = check.ReadCheckpoint();
        report.Check("manifest.json: every file as listed, by SHA-256 and size", () => check.CheckManifest(checkpoint));
        check.CheckSupplement(of);
        if (key is not null)
        {
            report.Check("manifest.sig: signed by the key you gave", () => check.CheckSignature(key));
            report.Check("checkpoint.txt: signed by the key you gave", () => check.CheckCheckpointSignature(checkpoint, key));
        }

        var sameAsKept = kept is not null && check.CheckKept(checkpoint, kept, consistency);
        report.Check("records.jsonl: every line in the form that is hashed, its id that of its event", check.ReadRecords);
        report.Check("proofs.json: every record leads to the signed root", () => check.CheckProofs(checkpoint));
        report.Check("findings.json: every record it names is here, and each unit's judgement is the one the manifest lists", check.CheckFindings);
        report.OriginEstablished = (key is not null || sameAsKept) && report.Problems.Count == 0;
        if (key is null && sameAsKept)
        {
            report.Remarks.Add("Without a key: the checkpoint you hold vouches for the records, but the manifest's signature was not checked.");
        }

        return report;
    }

    private void Files()
    {
        foreach (var missing in s_parts.Where(p => !_files.ContainsKey(p)))
        {
            _report.Wrong(missing, "The file is missing.");
        }

        // One PDF, or its parts numbered from 1.
        var parts = _files.Keys.Where(n => PartName().IsMatch(n)).OrderBy(n => n.Length).ThenBy(n => n, StringComparer.Ordinal).ToList();
        string[] pdfs = _files.ContainsKey(Pdf) || parts.Count == 0 ? [Pdf] : [.. Enumerable.Range(1, parts.Count).Select(i => string.Create(CultureInfo.InvariantCulture, $"packet-{i}.pdf"))];
        foreach (var missing in pdfs.Where(p => !_files.ContainsKey(p)))
        {
            _report.Wrong(missing, "The file is missing.");
        }

        foreach (var other in _files.Keys.Except(s_parts).Except(pdfs))
        {
            _report.Wrong(other, "The file does not belong in a packet.");
        }
    }

    [GeneratedRegex(@"\Apacket-[1-9][0-9]{0,3}\.pdf\z")]
    private static partial Regex PartName();

    private void CheckSums()
    {
        if (!_files.TryGetValue(Sums, out var bytes))
        {
            return;
        }

        var listed = new HashSet<string>(StringComparer.Ordinal);
        var number = 0;
        foreach (var line in Encoding.UTF8.GetString(bytes).Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            number++;
            if (line.Length < 67 || line[64] != ' ' || line[65] is not (' ' or '*') || !listed.Add(line[66..]))
            {
                _report.Wrong(Sums, "The line is not a hash, two blanks and a name, or names a file again.", number);
                continue;
            }

            if (_files.TryGetValue(line[66..], out var file) && Sha256(file) != line[..64])
            {
                _report.Wrong(line[66..], $"The file was changed: SHA256SUMS says {line[..64]}, it is {Sha256(file)}.");
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

    private void CheckManifest(Note? checkpoint) => ReadJson(Manifest, manifest =>
    {
        if (checkpoint is not null)
        {
            MustBeOf(checkpoint, manifest.TryGetProperty("log", out var log) ? log : default, Manifest);
        }

        if (!Canonical.Is(_files[Manifest], manifest))
        {
            _report.Wrong(Manifest, "It is not in RFC 8785 form.");
        }

        if (Text(manifest, "format") is not "traceability-packet/1" and var format)
        {
            _report.Wrong(Manifest, $"The format is {format ?? "not given"}; this program knows traceability-packet/1.");
        }

        var listed = new HashSet<string>(StringComparer.Ordinal);
        foreach (var entry in Object(manifest, "files"))
        {
            listed.Add(entry.Name);
            var (sha256, size) = (Text(entry.Value, "sha256"), Number(entry.Value, "size"));
            if (!_files.TryGetValue(entry.Name, out var file))
            {
                _report.Wrong(Manifest, $"{entry.Name} is listed and not here.");
            }
            else if (Sha256(file) != sha256)
            {
                _report.Wrong(entry.Name, $"The file is not the one the manifest was made over: listed SHA-256 {sha256}, it is {Sha256(file)}.");
            }
            else if (file.Length != size)
            {
                _report.Wrong(entry.Name, $"The manifest says {size} bytes, it has {file.Length}.");
            }
            else
            {
                _asInManifest.Add(entry.Name);
            }
        }

        foreach (var name in _files.Keys.Where(n => n is not (Manifest or Signature or Sums) && !listed.Contains(n)))
        {
            _report.Wrong(Manifest, $"{name} is not listed.");
        }
    });

    private Note? ReadCheckpoint()
    {
        if (!_files.TryGetValue(Checkpoint, out var bytes))
        {
            return null;
        }

        if (Note.Read(Encoding.UTF8.GetString(bytes)) is not { } note)
        {
            _report.Wrong(Checkpoint, "It is not a checkpoint: origin, size and root, each a line, a blank line, and signature lines.");
            return null;
        }

        _report.Origin = note.Origin;
        _report.Size = note.Size;
        _report.Root = Convert.ToHexStringLower(note.Root);
        return note;
    }

    private void MustBeOf(Note note, JsonElement log, string file)
    {
        var (origin, size, root) = (Text(log, "origin"), Number(log, "size"), Text(log, "root"));
        if (origin != note.Origin || size != note.Size || root != _report.Root)
        {
            _report.Wrong(file, $"It speaks of log {origin} at {size} records with root {root}; the checkpoint is of {note.Origin} at {note.Size} with root {_report.Root}.");
        }
    }

    private void CheckSignature(PublicKey key)
    {
        if (_files.TryGetValue(Manifest, out var manifest) && _files.TryGetValue(Signature, out var signature)
            && !key.Signed(manifest, signature))
        {
            _report.Wrong(Signature, "The key you gave did not sign this manifest.json: the manifest was changed after signing, or another key signed it.");
        }
    }

    private void CheckCheckpointSignature(Note? checkpoint, PublicKey key)
    {
        if (checkpoint?.NotSignedBecause(key) is { } why)
        {
            _report.Wrong(Checkpoint, why);
        }
    }

    /// <summary>Whether the checkpoint from elsewhere vouches for the packet's.</summary>
    private bool CheckKept(Note? checkpoint, Note kept, byte[]? consistency)
    {
        if (checkpoint is null)
        {
            return false;
        }

        if (checkpoint.Origin != kept.Origin)
        {
            _report.Wrong(Checkpoint, $"It is of the log {checkpoint.Origin}, the checkpoint you hold of {kept.Origin}.");
            return false;
        }

        if (checkpoint.Size == kept.Size)
        {
            if (!checkpoint.Root.AsSpan().SequenceEqual(kept.Root))
            {
                _report.Wrong(Checkpoint, $"Two histories: at {kept.Size} records the checkpoint you hold has another root ({Convert.ToHexStringLower(kept.Root)}).");
                return false;
            }

            _report.Checked.Add("checkpoint.txt: the same as the checkpoint you hold");
            return true;
        }

        var (older, newer) = checkpoint.Size < kept.Size ? (checkpoint, kept) : (kept, checkpoint);
        if (consistency is null)
        {
            _report.Remarks.Add(
                $"The checkpoint you hold is of {kept.Size} records, the packet's of {checkpoint.Size}. That one continues the other is shown by the answer to "
                + $"/v1/log/consistency?from={older.Size}&to={newer.Size}; give it with --consistency.");
            return false;
        }

        if (!Continues(older, newer, consistency))
        {
            _report.Wrong(Checkpoint, $"The consistency answer does not show that the log of {newer.Size} records begins with the log of {older.Size} records.");
            return false;
        }

        _report.Checked.Add($"checkpoint.txt: the log of {newer.Size} records begins with the log of {older.Size} records");
        return true;
    }

    private static bool Continues(Note older, Note newer, byte[] answer)
    {
        try
        {
            using var parsed = Canonical.Parse(answer);
            byte[][] hashes = [.. parsed.RootElement.GetProperty("hashes").EnumerateArray().Select(h => Convert.FromHexString(h.GetString()!))];
            return Tree.Continues(older.Size, newer.Size, older.Root, newer.Root, hashes);
        }
        catch (Exception e) when (e is JsonException or KeyNotFoundException or InvalidOperationException or FormatException or ArgumentNullException)
        {
            return false;
        }
    }

    private void ReadRecords()
    {
        if (!_files.TryGetValue(Records, out var bytes))
        {
            return;
        }

        using var stream = new MemoryStream(bytes);
        var number = 0;
        foreach (var line in RecordLine.Lines(stream).Select(b => RecordLine.Read(++number, b)))
        {
            _report.Records++;
            if (line.Continues is not null)
            {
                _report.Wrong(Records, "The line is not a record: it is the start of a log.", line.Number);
            }

            foreach (var fault in line.Faults)
            {
                _report.Wrong(Records, $"{line.Name}: {fault}", line.Number, line.Id);
            }

            if (line.Id is not null && !_records.TryAdd(line.Id, line))
            {
                _report.Wrong(Records, $"{line.Name} is already in line {_records[line.Id].Number}.", line.Number, line.Id);
            }
        }

        if (number == 0)
        {
            _report.Wrong(Records, "There is no record.");
        }
    }

    private void CheckProofs(Note? checkpoint)
    {
        if (checkpoint is null)
        {
            return;
        }

        var proved = new HashSet<string>(StringComparer.Ordinal);
        var readable = ReadJson(Proofs, proofs =>
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

                if (Number(proof, "index") is not { } index || Hashes(proof) is not { } hashes
                    || !Tree.Includes(index, checkpoint.Size, record.Leaf, hashes, checkpoint.Root))
                {
                    var (file, which) = _asInManifest.Contains(Records) == _asInManifest.Contains(Proofs)
                        ? (Records, "The record or its proof was changed")
                        : _asInManifest.Contains(Proofs) ? (Records, "The record was changed") : (Proofs, "The proof was changed");
                    _report.Wrong(file, $"{which}: {record.Name} is not in the log as it stands here.", file == Records ? record.Number : null, id);
                }
            }
        });
        if (!readable)
        {
            return;
        }

        foreach (var record in _records.Values.Where(r => !proved.Contains(r.Id!)).OrderBy(r => r.Number))
        {
            _report.Wrong(Proofs, $"There is no proof of {record.Name}, line {record.Number} of {Records}.", null, record.Id);
        }
    }

    private void CheckFindings()
    {
        var judgements = new Dictionary<string, string>(StringComparer.Ordinal);
        ReadJson(Findings, findings =>
        {
            Cited(findings, "");
            if (findings.ValueKind == JsonValueKind.Array)
            {
                foreach (var judgement in findings.EnumerateArray().Where(j => Text(j, "unit") is not null))
                {
                    judgements[Text(judgement, "unit")!] = Sha256(Encoding.UTF8.GetBytes(judgement.GetRawText()));
                }
            }
        });
        ReadJson(Manifest, manifest =>
        {
            foreach (var listed in Object(manifest, "judgements"))
            {
                if (!judgements.TryGetValue($"unit:{listed.Name}", out var hash))
                {
                    _report.Wrong(Findings, $"The manifest lists a judgement of unit {listed.Name}, which is not here.");
                }
                else if (listed.Value.ValueKind != JsonValueKind.String || hash != listed.Value.GetString())
                {
                    _report.Wrong(Findings, $"The judgement of unit {listed.Name} is not the one the manifest lists.");
                }
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

    private bool ReadJson(string name, Action<JsonElement> use)
    {
        if (!_files.TryGetValue(name, out var bytes))
        {
            return false;
        }

        try
        {
            using var parsed = Canonical.Parse(bytes);
            if (parsed.RootElement.ValueKind is JsonValueKind.Object || (name == Findings && parsed.RootElement.ValueKind is JsonValueKind.Array))
            {
                use(parsed.RootElement);
                return true;
            }

            _report.Wrong(name, "It is not a JSON object.");
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException)
        {
            _report.Wrong(name, $"It is not a JSON text: {e.Message}");
        }

        return false;
    }

    private static string Sha256(byte[] bytes) => Convert.ToHexStringLower(SHA256.HashData(bytes));

    private static string? Text(JsonElement of, string name) =>
        of.ValueKind == JsonValueKind.Object && of.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.String
            ? value.GetString() : null;

    private static long? Number(JsonElement of, string name) =>
        of.ValueKind == JsonValueKind.Object && of.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.Number
            && value.TryGetInt64(out var number) ? number : null;

    private static IEnumerable<JsonProperty> Object(JsonElement of, string name) =>
        of.ValueKind == JsonValueKind.Object && of.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.Object
            ? value.EnumerateObject() : [];

    private static IEnumerable<JsonElement> Array(JsonElement of, string name) =>
        of.ValueKind == JsonValueKind.Object && of.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.Array
            ? value.EnumerateArray() : [];

    private static byte[][]? Hashes(JsonElement proof)
    {
        try
        {
            byte[][] hashes = [.. Array(proof, "hashes").Select(h => Convert.FromHexString(h.GetString()!))];
            return hashes.All(h => h.Length == 32) ? hashes : null;
        }
        catch (Exception e) when (e is FormatException or InvalidOperationException or ArgumentNullException)
        {
            return null;
        }
    }
}
