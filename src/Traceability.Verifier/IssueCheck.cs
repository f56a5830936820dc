using System.Globalization;
using System.Text.Json;
using static Traceability.Verifier.Texts;

namespace Traceability.Verifier;

/// <summary>
/// That a signed-on person issued this packet, and that the log says so: the record names the manifest by its hash, and lies
/// in the log that goes on from the packet's own checkpoint.
/// </summary>
internal sealed partial class PacketCheck
{
    private void CheckIssue(Note? checkpoint, PublicKey? key, string lastRecorded)
    {
        var before = _report.Wrongs;
        var record = ProvedIssue(checkpoint, key, lastRecorded);
        if (record is null && _report.Wrongs == before)
        {
            _report.Wrong(IssueRecord, "It could not be held against the log.");
        }

        _report.IssueRecord = _report.Wrongs == before ? record : null;
    }

    /// <returns>The record's id; null where it could not be looked at.</returns>
    private string? ProvedIssue(Note? checkpoint, PublicKey? key, string lastRecorded)
    {
        var later = ReadCheckpoint(IssueCheckpoint);
        if (checkpoint is null || later is null || !_files.TryGetValue(IssueRecord, out var file))
        {
            return null;
        }

        if (key is not null)
        {
            CheckCheckpointSignature(IssueCheckpoint, later, key);
        }

        if (later.Origin != checkpoint.Origin || later.Size <= checkpoint.Size)
        {
            _report.Wrong(IssueCheckpoint, $"It is of the log {later.Origin} at {later.Size} records; it must come after that of {checkpoint.Origin} at {checkpoint.Size}.");
            return null;
        }

        var line = ReadIssue(file, lastRecorded);
        if (line is null)
        {
            return null;
        }

        var read = ReadJson(IssueProof, 1 << 20, proof =>
        {
            MustBeOf(later, proof, IssueProof);
            var proofs = Array(proof, "proofs").ToList();
            if (proofs.Count != 1 || Text(proofs[0], "record") != line.Id || Number(proofs[0], "index") is not { } index || index < checkpoint.Size
                || Hashes(proofs[0], "hashes") is not { } hashes || !Tree.Includes(index, later.Size, line.Leaf, hashes, later.Root))
            {
                _report.Wrong(IssueProof, $"It does not prove that {line.Name} is in the log of {later.Size} records, after the {checkpoint.Size} that the packet rests on.", null, line.Id);
            }

            if (Hashes(proof, "consistency") is not { } steps || !Tree.Continues(checkpoint.Size, later.Size, checkpoint.Root, later.Root, steps))
            {
                _report.Wrong(IssueProof, $"It does not show that the log of {later.Size} records begins with the log of {checkpoint.Size} records.");
            }
        });
        return read ? line.Id : null;
    }

    /// <summary>The one line, its content held against the manifest; null where it cannot be read.</summary>
    private RecordLine? ReadIssue(PacketFile file, string lastRecorded)
    {
        var bytes = file.Bytes(RecordLine.Longest + 1);
        if (bytes.Length == 0 || System.Array.IndexOf(bytes, (byte)'\n') != bytes.Length - 1)
        {
            _report.Wrong(IssueRecord, "It is not one line with its line feed.");
            return null;
        }

        var line = RecordLine.Read(1, bytes[..^1]);
        foreach (var fault in line.Faults)
        {
            _report.Wrong(IssueRecord, $"{line.Name}: {fault}", 1, line.Id);
        }

        if (line.Continues is not null)
        {
            _report.Wrong(IssueRecord, "The line is not a record: it is the start of a log.", 1);
        }

        if (line.Faults.Count > 0 || line.Continues is not null)
        {
            return null;
        }

        if (string.CompareOrdinal(line.RecordedAt, lastRecorded) < 0)
        {
            _report.Wrong(IssueRecord, $"It was recorded at {line.RecordedAt}, before the last record of the packet ({lastRecorded}).", 1, line.Id);
        }

        using var record = Parse(bytes.AsMemory(0, bytes.Length - 1));
        var fact = Member(record.RootElement, "fact");
        ReadJson(Manifest, 8 << 20, manifest =>
        {
            foreach (var (what, said, meant) in Expected(record.RootElement, fact, manifest))
            {
                if (said is null || said != meant)
                {
                    _report.Wrong(IssueRecord, $"It is not the record of this packet's issue: {what} is {said ?? "not said"}, it must be {meant ?? "said by the manifest"}.", 1, line.Id);
                }
            }
        });
        return line;
    }

    private IEnumerable<(string What, string? Said, string? Meant)> Expected(JsonElement record, JsonElement fact, JsonElement manifest)
    {
        var data = Member(fact, "data");
        var supplement = Member(manifest, "supplement");
        var isSupplement = supplement.ValueKind == JsonValueKind.Object;
        yield return ("its type", Text(fact, "type"), isSupplement ? "supplement.issued.v1" : "record-packet.issued.v1");
        yield return ("the manifest's SHA-256", Text(data, "manifestSha256"), _files[Manifest].Sha256);
        yield return ("the packet", Text(data, "packet"), isSupplement ? Text(supplement, "packet") : Text(manifest, "packet"));
        if (isSupplement)
        {
            yield return ("the supplement's number", Number(data, "number")?.ToString(CultureInfo.InvariantCulture), Number(supplement, "number")?.ToString(CultureInfo.InvariantCulture));
        }

        yield return ("its units", Strings(data, "units") is { } units ? string.Join(", ", units) : null, Strings(manifest, "units") is { } own ? string.Join(", ", own) : null);
        yield return ("its person", Text(fact, "person"), Text(manifest, "issuedBy"));
        yield return ("its time", Seconds(Text(fact, "time")), Text(manifest, "issuedAt"));
        // No station can write so: the service itself wrote it, for a person who signed with the PIN at that moment.
        yield return ("its source", Text(fact, "source"), "/service/decisions");
        yield return ("its assurance", Text(fact, "assurance"), "pin");
        yield return ("its device", Text(record, "device"), "service");
    }

    private static string? Seconds(string? time) =>
        DateTimeOffset.TryParse(time, CultureInfo.InvariantCulture, DateTimeStyles.None, out var at)
            ? at.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture) : null;
}
