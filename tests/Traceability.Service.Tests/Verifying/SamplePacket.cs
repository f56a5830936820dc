using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Records;
using Traceability.Service.Log;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Tests.Verifying;

/// <summary>A packet over a small log, in a folder of its own, and the ways to spoil it.</summary>
public sealed class SamplePacket : IDisposable
{
    private const int LogSize = 300;

    private readonly string _folder = Directory.CreateTempSubdirectory("packet-").FullName;

    /// <param name="key">The log's key; a new one where none is given.</param>
    public SamplePacket(LogKey? key = null)
    {
        Key = key ?? LogKey.Create();
        Log = [.. Enumerable.Range(0, LogSize).Select(RecordBytes)];
        var hashes = Log.Select(b => Merkle.LeafHash(b)).ToArray();
        Checkpoint = new Checkpoint("plant.example/records", LogSize, Merkle.Root(hashes));
        int[] inPacket = [0, 5, 17, 255, 256, 299];
        Ids = [.. inPacket.Select(i => RecordId.Of("/plant/cage-1", Event(i)).ToString("D"))];
        Write("packet.pdf", "%PDF-1.7 sample"u8.ToArray());
        Write("records.jsonl", [.. inPacket.SelectMany(i => Log[i].Append((byte)'\n'))]);
        Write("findings.json", CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(new[]
        {
            new { unit = "unit:RF-0101", findings = new[] { new { requirement = "cage cover", verdict = "met", used = new[] { Ids[0], Ids[2] } } } },
        })));
        Judgement = Hex(SHA256.HashData(Read("findings.json").AsSpan()[1..^1]));
        Write("checkpoint.txt", Encoding.UTF8.GetBytes(Checkpoint.Sign(Key)));
        Write("proofs.json", JsonSerializer.SerializeToUtf8Bytes(new
        {
            origin = Checkpoint.Origin,
            size = LogSize,
            root = Hex(Checkpoint.Root),
            proofs = inPacket.Select((index, i) => new
            {
                record = Ids[i],
                index,
                hashes = Merkle.InclusionRanges(index, LogSize).Select(r => Hex(Merkle.Root(hashes[(int)r.Low..(int)r.High]))),
            }),
        }));
        Seal();
    }

    public LogKey Key { get; }

    public IReadOnlyList<byte[]> Log { get; }

    public Checkpoint Checkpoint { get; }

    /// <summary>Ids of the records in the packet, in the order of their lines.</summary>
    public IReadOnlyList<string> Ids { get; }

    /// <summary>Hash of the judgement of the one unit, as issued.</summary>
    public string Judgement { get; }

    public string Path => _folder;

    /// <summary>Puts manifest, issue and sums in agreement with the files as they are now, signed by a key.</summary>
    /// <param name="manifest">Changes the manifest before it is signed.</param>
    /// <param name="issue">Changes the event of its issue before that is recorded.</param>
    /// <param name="envelope">Changes device and assurance of the record of the issue.</param>
    public void Seal(LogKey? key = null, Action<JsonObject>? manifest = null, Action<JsonObject>? issue = null, (string Device, string Assurance)? envelope = null)
    {
        var files = new JsonObject();
        foreach (var name in (string[])["checkpoint.txt", "findings.json", "packet.pdf", "proofs.json", "records.jsonl"])
        {
            var bytes = Read(name);
            files[name] = new JsonObject { ["sha256"] = Hex(SHA256.HashData(bytes)), ["size"] = bytes.Length };
        }

        var content = new JsonObject
        {
            ["format"] = "traceability-packet/2",
            ["packet"] = "PK-2026-0001",
            ["draft"] = false,
            ["contract"] = "C-2026-014",
            ["issuedAt"] = "2026-03-20T15:00:00Z",
            ["issuedBy"] = "p-101",
            ["units"] = new JsonArray("RF-0101"),
            ["judgements"] = new JsonObject { ["RF-0101"] = Judgement },
            ["pending"] = new JsonArray(new JsonObject { ["unit"] = "RF-0101", ["requirement"] = "acceptance.strength", ["subject"] = "cylinders of 2026-03-02" }),
            ["log"] = new JsonObject { ["origin"] = Checkpoint.Origin, ["size"] = Checkpoint.Size, ["root"] = Hex(Checkpoint.Root) },
            ["files"] = files,
        };
        manifest?.Invoke(content);
        var written = CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(content));
        Write("manifest.json", written);
        Sign(key);
        WriteIssue(written, content, key ?? Key, issue, envelope ?? ("service", "service"));
        Sum();
    }

    /// <summary>Signs the manifest as it is now.</summary>
    public void Sign(LogKey? key = null) => Write("manifest.sig", Encoding.UTF8.GetBytes(SignedNote.Sign(
        $"{Checkpoint.Origin}/manifest\nrecord packet manifest\n{Convert.ToBase64String(SHA256.HashData(Read("manifest.json")))}\n", Checkpoint.Origin + "/manifest", key ?? Key)));

    private void WriteIssue(byte[] manifest, JsonObject content, LogKey key, Action<JsonObject>? change, (string Device, string Assurance) envelope)
    {
        var happened = new JsonObject
        {
            ["specversion"] = "1.0", ["id"] = "issue-1", ["source"] = "/service/decisions", ["type"] = "record-packet.issued.v1", ["subject"] = "packet:PK-2026-0001",
            ["time"] = "2026-03-20T10:00:00.250000-05:00", ["person"] = "p-101", ["clockoffsetms"] = 0, ["assurance"] = "pin",
            ["data"] = new JsonObject
            {
                ["packet"] = "PK-2026-0001", ["units"] = new JsonArray("RF-0101"), ["manifestSha256"] = Hex(SHA256.HashData(manifest)), ["pending"] = content["pending"]?.DeepClone(),
            },
        };
        change?.Invoke(happened);
        var sent = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(happened));
        var at = DateTimeOffset.UnixEpoch.AddMinutes(LogSize);
        Issue(Record.Write(sent, sent.RecordId, envelope.Device, envelope.Assurance, at, at), sent.RecordId.ToString("D"), key);
    }

    /// <summary>The files of the issue, for any record of it: the log goes on with that record and two more.</summary>
    public void Issue(byte[] record, string id, LogKey? key = null, IReadOnlyList<byte[]>? log = null)
    {
        byte[][] leaves = [.. (log ?? Log).Select(b => Merkle.LeafHash(b)), Merkle.LeafHash(record), Merkle.LeafHash("later"u8), Merkle.LeafHash("last"u8)];
        var index = leaves.Length - 3;
        byte[] Range(LeafRange range) => Merkle.Root(leaves[(int)range.Low..(int)range.High]);
        var later = new Checkpoint(Checkpoint.Origin, leaves.Length, Merkle.Root(leaves));
        Write("issue-record.jsonl", [.. record, (byte)'\n']);
        Write("issue-checkpoint.txt", Encoding.UTF8.GetBytes(later.Sign(key ?? Key)));
        Write("issue-proof.json", JsonSerializer.SerializeToUtf8Bytes(new
        {
            origin = later.Origin,
            size = later.Size,
            root = Hex(later.Root),
            proofs = new[] { new { record = id, index, hashes = Merkle.InclusionRanges(index, leaves.Length).Select(r => Hex(Range(r))) } },
            consistency = Merkle.ConsistencyRanges(LogSize, leaves.Length).Select(r => Hex(Range(r))),
        }));
    }

    /// <summary>The packet as it was made before there were records of the issue: the key over the bare manifest.</summary>
    public void SealAsBefore(LogKey? key = null, Action<JsonObject>? manifest = null)
    {
        Seal(key, m =>
        {
            m["format"] = "traceability-packet/1";
            manifest?.Invoke(m);
        });
        foreach (var name in (string[])["issue-record.jsonl", "issue-proof.json", "issue-checkpoint.txt"]) Delete(name);
        Write("manifest.sig", (key ?? Key).Sign(Read("manifest.json")));
        Sum();
    }

    /// <summary>Puts SHA256SUMS in agreement with the files as they are now.</summary>
    public void Sum()
    {
        var names = Directory.GetFiles(_folder).Select(System.IO.Path.GetFileName).Where(n => n != "SHA256SUMS").Order(StringComparer.Ordinal);
        Write("SHA256SUMS", Encoding.ASCII.GetBytes(string.Concat(names.Select(n => $"{Hex(SHA256.HashData(Read(n!)))}  {n}\n"))));
    }

    public byte[] Read(string name) => File.ReadAllBytes(System.IO.Path.Combine(_folder, name));

    public void Write(string name, byte[] bytes) => File.WriteAllBytes(System.IO.Path.Combine(_folder, name), bytes);

    public void Delete(string name) => File.Delete(System.IO.Path.Combine(_folder, name));

    /// <summary>Replaces a text once in one line of a file, or in the whole file.</summary>
    public void Change(string name, string old, string @new, int? line = null)
    {
        var lines = Encoding.UTF8.GetString(Read(name)).Split('\n');
        var from = line is { } l ? l - 1 : Array.FindIndex(lines, x => x.Contains(old, StringComparison.Ordinal));
        var at = lines[from].IndexOf(old, StringComparison.Ordinal);
        Assert.True(at >= 0, $"{name} does not hold {old}");
        lines[from] = lines[from][..at] + @new + lines[from][(at + old.Length)..];
        Write(name, Encoding.UTF8.GetBytes(string.Join('\n', lines)));
    }

    /// <summary>The public key as a file outside the packet, in the form that names its log.</summary>
    public string KeyFile(LogKey? key = null)
    {
        var path = _folder + (key is null ? ".key" : ".other.key");
        File.WriteAllText(path, (key ?? Key).VerifierKey(Checkpoint.Origin) + "\n");
        return path;
    }

    /// <summary>The public key as PEM, which names no log.</summary>
    public string PemFile()
    {
        var path = _folder + ".pem";
        File.WriteAllText(path, Key.PublicPem());
        return path;
    }

    /// <summary>A file outside the packet.</summary>
    public string Beside(string name, byte[] bytes)
    {
        var path = $"{_folder}.{name}";
        File.WriteAllBytes(path, bytes);
        return path;
    }

    public string Zip(string prefix)
    {
        var path = _folder + ".zip";
        using var zip = ZipFile.Open(path, ZipArchiveMode.Create);
        foreach (var file in Directory.GetFiles(_folder))
        {
            zip.CreateEntryFromFile(file, prefix + System.IO.Path.GetFileName(file));
        }

        return path;
    }

    public void Dispose()
    {
        Directory.Delete(_folder, recursive: true);
        foreach (var beside in Directory.GetFiles(System.IO.Path.GetDirectoryName(_folder)!, System.IO.Path.GetFileName(_folder) + ".*"))
        {
            File.Delete(beside);
        }
    }

    private static string Event(int index) => $"cage-event-{index}";

    private static string Hex(byte[] bytes) => Convert.ToHexStringLower(bytes);

    /// <summary>Record bytes as the service writes them; every tenth holds what is hard to write the same way twice.</summary>
    private static byte[] RecordBytes(int index)
    {
        var sent = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
        {
            specversion = "1.0",
            id = Event(index),
            source = "/plant/cage-1",
            type = "cage.tied.v1",
            subject = $"cage:C-{index}",
            time = "2026-03-02T09:30:00-05:00",
            data = index % 10 == 5
                ? new { coverIn = "1 15/16", note = "hook \"J\" at 2\u00bd in, \u20ac \ud83d\ude02 \u0007\n", z = 1e-7, a = 123456789012345680000.0 }
                : new { coverIn = "2", note = "", z = 0.1, a = 1.0 },
        }));
        var at = DateTimeOffset.UnixEpoch.AddMinutes(index);
        return Record.Write(sent, sent.RecordId, "kiosk-1", "device-key", at, at);
    }
}
