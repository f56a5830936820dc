using System.Diagnostics;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Records;
using Traceability.Service.Log;
using Traceability.Verifier;

namespace Traceability.Service.Tests.Verifying;

/// <summary>Packets that somebody made to be believed. Whatever is forged, the answer is never "Proved" and never exit code 0.</summary>
public sealed class ForgedPacketTests : IDisposable
{
    private readonly SamplePacket _packet = new();

    public void Dispose() => _packet.Dispose();

    private static (int Exit, string Said) Run(params string[] args)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        return (Command.Run(args, output, error), output.ToString() + error);
    }

    private (int Exit, string Said) Check(params string[] more) => Run([_packet.Path, .. more]);

    private void Fails(string expected, params string[] more) => Is(Command.Failed, expected, Check(["--key", _packet.KeyFile(), .. more]));

    private static void Is(int exit, string expected, (int Exit, string Said) answer)
    {
        Assert.True(answer.Exit == exit, answer.Said);
        Assert.Contains(expected, answer.Said, StringComparison.Ordinal);
        Assert.DoesNotContain("Proved:", answer.Said, StringComparison.Ordinal);
    }

    // Signatures.

    [Fact]
    public void Replaced_findings_and_pdf_under_a_signature_of_zeros_prove_nothing_whatever_checkpoint_is_held()
    {
        var kept = _packet.Beside("kept", _packet.Read("checkpoint.txt"));
        _packet.Write("packet.pdf", "%PDF-1.7 another"u8.ToArray());
        _packet.Change("findings.json", "cage cover", "cage  cover");
        _packet.Seal(manifest: m => m["judgements"] = new JsonObject { ["RF-0101"] = Convert.ToHexStringLower(SHA256.HashData(_packet.Read("findings.json").AsSpan()[1..^1])) });
        foreach (var zeros in (byte[][])[new byte[64], Encoding.UTF8.GetBytes($"plant.example/records/manifest\nrecord packet manifest\n{Convert.ToBase64String(SHA256.HashData(_packet.Read("manifest.json")))}\n\n\u2014 plant.example/records/manifest {Convert.ToBase64String([.. SignedNote.KeyHash("plant.example/records/manifest", _packet.Key.PublicKey), .. new byte[64]])}\n")])
        {
            _packet.Write("manifest.sig", zeros);
            _packet.Sum();

            Is(Command.NotProved, "No signature was checked", Check("--checkpoint", kept));
            Is(Command.NotProved, "\"consistent\"", Check("--checkpoint", kept, "--json"));
            Fails("manifest.sig", "--checkpoint", kept);
        }
    }

    [Fact]
    public void A_signature_of_something_else_by_the_same_key_is_no_signature_of_the_manifest()
    {
        var manifest = _packet.Read("manifest.json");
        var hash = Convert.ToBase64String(SHA256.HashData(manifest));
        foreach (var (signature, why) in new (byte[], string)[]
        {
            (_packet.Key.Sign(manifest), "It is not a signed text"),
            (_packet.Read("checkpoint.txt"), "It is not of this manifest.json"),
            (Encoding.UTF8.GetBytes(SignedNote.Sign($"plant.example/records\nrecord packet manifest\n{hash}\n", "plant.example/records", _packet.Key)), "It is not of this manifest.json"),
            (Encoding.UTF8.GetBytes(SignedNote.Sign($"plant.example/records/manifest\nrecord packet manifest\n{hash}\nmore\n", "plant.example/records/manifest", _packet.Key)), "It is not of this manifest.json"),
            (Encoding.UTF8.GetBytes(SignedNote.Sign($"plant.example/records/manifest\nrecord packet manifest\n{hash}\n", "plant.example/records", _packet.Key)), "did not sign this manifest.json"),
            (Encoding.UTF8.GetBytes(SignedNote.Sign($"elsewhere.example/records/manifest\nrecord packet manifest\n{hash}\n", "elsewhere.example/records/manifest", _packet.Key)), "It is not of this manifest.json"),
        })
        {
            _packet.Write("manifest.sig", signature);
            _packet.Sum();
            Fails(why);
        }
    }

    [Fact]
    public void A_manifest_note_is_no_checkpoint()
    {
        _packet.Write("checkpoint.txt", _packet.Read("manifest.sig"));
        _packet.Seal();
        Fails("It is not a checkpoint");
    }

    [Fact]
    public void Another_log_under_the_same_key_is_proved_by_no_key_that_names_no_log()
    {
        Is(Command.NotProved, "of which log it is the key nobody said; the packet says plant.example/records", Check("--key", _packet.PemFile()));
        Is(Command.Failed, "this is of plant.example/records", Check("--key", _packet.Key.VerifierKey("plant.example/another")));
        Is(Command.Failed, "this is of plant.example/records", Check("--key", _packet.PemFile(), "--origin", "plant.example/another"));
    }

    // What it is.

    [Theory]
    [InlineData("packet", null)]
    [InlineData("packet", "PK-2026-0009")]
    [InlineData("contract", null)]
    [InlineData("issuedAt", null)]
    [InlineData("issuedAt", "2026-03-27T15:00:00Z")]
    [InlineData("issuedBy", null)]
    [InlineData("issuedBy", "p-102")]
    [InlineData("units", null)]
    [InlineData("judgements", null)]
    [InlineData("draft", null)]
    [InlineData("format", "traceability-packet/3")]
    public void A_manifest_that_lacks_a_member_or_says_another_than_the_record_of_its_issue_fails(string member, string? value)
    {
        _packet.Seal(manifest: m =>
        {
            m.Remove(member);
            if (value is not null) m[member] = value;
        });
        Assert.Equal(Command.Failed, Check("--key", _packet.KeyFile()).Exit);
    }

    [Fact]
    public void Units_of_another_piece_and_units_without_a_judgement_fail()
    {
        _packet.Seal(manifest: m => m["units"] = new JsonArray("RF-0999"));
        Fails("It lists no judgement of unit RF-0999");
        _packet.Seal(manifest: m => m["units"] = new JsonArray("RF-0101", "RF-0102"), issue: e => e["data"]!["units"] = new JsonArray("RF-0101", "RF-0102"));
        Fails("It lists no judgement of unit RF-0102");
        _packet.Seal(manifest: m => m["units"] = new JsonArray());
        Fails("It does not name its units");
        _packet.Seal(manifest: m => m["units"] = new JsonArray("RF-0101", "RF-0101"));
        Fails("It does not name its units");
    }

    [Fact]
    public void Findings_without_judgements_fail()
    {
        foreach (var findings in (string[])["[]", "[{}]", "{}", "null", "[null]", "[[]]", "[1]"])
        {
            _packet.Write("findings.json", Encoding.UTF8.GetBytes(findings));
            _packet.Seal();
            Assert.Equal(Command.Failed, Check("--key", _packet.KeyFile()).Exit);
            _packet.Seal(manifest: m => m["judgements"] = new JsonObject());
            Fails("It lists no judgement of unit RF-0101");
        }
    }

    [Fact]
    public void A_judgement_twice_or_of_a_unit_that_is_none_of_the_packets_fails()
    {
        var one = Encoding.UTF8.GetString(_packet.Read("findings.json"))[1..^1];
        _packet.Write("findings.json", Encoding.UTF8.GetBytes($"[{one},{one}]"));
        _packet.Seal();
        Fails("unit:RF-0101 twice");
        _packet.Write("findings.json", Encoding.UTF8.GetBytes($"[{one},{one.Replace("RF-0101", "RF-0102", StringComparison.Ordinal)}]"));
        _packet.Seal();
        Fails("a judgement of unit:RF-0102, which is none of the packet's units");
    }

    [Fact]
    public void A_draft_is_never_proved_of_whatever_form()
    {
        _packet.SealAsBefore(manifest: m => m["draft"] = true);
        Is(Command.Draft, "A DRAFT for the plant's own review", Check("--key", _packet.KeyFile()));
        Is(Command.Draft, "\"draft\"", Check("--key", _packet.KeyFile(), "--json"));
        _packet.Seal(manifest: m => m["draft"] = true);
        Fails("A packet that was issued is no draft");

        _packet.Seal(manifest: m => { m["format"] = "traceability-draft/1"; m["draft"] = true; });
        foreach (var name in (string[])["issue-record.jsonl", "issue-proof.json", "issue-checkpoint.txt", "manifest.sig"]) _packet.Delete(name);
        _packet.Sum();
        Is(Command.Draft, "nobody signed it", Check("--key", _packet.KeyFile()));
        Is(Command.Draft, "nobody signed it", Check());
        _packet.Seal(manifest: m => m["format"] = "traceability-draft/1");
        foreach (var name in (string[])["issue-record.jsonl", "issue-proof.json", "issue-checkpoint.txt", "manifest.sig"]) _packet.Delete(name);
        _packet.Sum();
        Fails("does not say that it is one");
    }

    [Fact]
    public void A_packet_of_before_there_were_issue_records_is_proved_and_says_so_and_none_of_now_passes_as_one()
    {
        _packet.SealAsBefore();
        var (exit, said) = Check("--key", _packet.KeyFile());
        Assert.True(exit == Command.Ok, said);
        Assert.Contains("Made before issue records", said, StringComparison.Ordinal);
        Assert.Equal(Command.NotProved, Check().Exit);

        var manifest = _packet.Read("manifest.json");
        _packet.Seal(manifest: m => m["format"] = "traceability-packet/1");
        foreach (var name in (string[])["issue-record.jsonl", "issue-proof.json", "issue-checkpoint.txt"]) _packet.Delete(name);
        _packet.Sum();
        Assert.Equal(manifest, _packet.Read("manifest.json"));
        Fails("The key you gave did not sign this manifest.json");
    }

    // Who issued it.

    public static TheoryData<string, string> Issues => new()
    {
        { "type", "load-certificate.issued.v1" }, { "type", "supplement.issued.v1" }, { "source", "/office/1" }, { "person", "p-102" }, { "assurance", "badge" }, { "time", "2026-03-20T10:00:01-05:00" },
        { "data.packet", "PK-2026-0002" }, { "data.manifestSha256", new string('a', 64) }, { "data.units", "RF-0102" },
    };

    [Theory, MemberData(nameof(Issues))]
    public void A_record_of_another_issue_of_another_person_or_of_a_station_is_not_this_packets(string member, string value)
    {
        _packet.Seal(issue: e =>
        {
            var of = member.StartsWith("data.", StringComparison.Ordinal) ? e["data"]!.AsObject() : e;
            var name = member.Split('.')[^1];
            of[name] = name == "units" ? new JsonArray(value) : value;
        });
        Fails("It is not the record of this packet's issue");
    }

    [Theory]
    [InlineData("office-1", "service")]
    [InlineData("kiosk-1", "device signature")]
    public void A_record_that_a_device_delivered_is_not_the_services(string device, string assurance)
    {
        _packet.Seal(envelope: (device, assurance));
        Fails($"its device is {device}, it must be service");
    }

    [Fact]
    public void An_issue_in_a_history_of_its_own_fails()
    {
        var record = _packet.Read("issue-record.jsonl")[..^1];
        var id = JsonNode.Parse(record)!["id"]!.GetValue<string>();
        // The same number of leaves before it, one of them another.
        _packet.Issue(record, id, log: [.. _packet.Log.Take(299), "another"u8.ToArray()]);
        _packet.Sum();
        Fails("It does not show that the log of 303 records begins with the log of 300 records");

        // A record that was there before the packet's checkpoint: no record can name what was not made yet.
        _packet.Seal();
        var proofs = JsonNode.Parse(_packet.Read("proofs.json"))!["proofs"]![5]!;
        _packet.Write("issue-record.jsonl", [.. _packet.Log[299], (byte)'\n']);
        var proof = JsonNode.Parse(_packet.Read("issue-proof.json"))!;
        proof["proofs"] = new JsonArray(proofs.DeepClone());
        _packet.Write("issue-proof.json", JsonSerializer.SerializeToUtf8Bytes(proof));
        _packet.Sum();
        Fails("issue-proof.json: It does not prove that");

        _packet.Seal();
        _packet.Write("issue-checkpoint.txt", _packet.Read("checkpoint.txt"));
        _packet.Sum();
        Fails("it must come after that of plant.example/records at 300");
    }

    [Fact]
    public void An_issue_checkpoint_of_another_key_or_log_fails()
    {
        var record = _packet.Read("issue-record.jsonl")[..^1];
        _packet.Issue(record, JsonNode.Parse(record)!["id"]!.GetValue<string>(), LogKey.Create());
        _packet.Sum();
        Fails("issue-checkpoint.txt: The key you gave did not sign it");

        _packet.Seal();
        var later = Checkpoint.Open(Encoding.UTF8.GetString(_packet.Read("issue-checkpoint.txt")), _packet.Key.PublicKey)!;
        _packet.Write("issue-checkpoint.txt", Encoding.UTF8.GetBytes(new Checkpoint("plant.example/another", later.Size, later.Root).Sign(_packet.Key)));
        _packet.Sum();
        Fails("issue-checkpoint.txt");
    }

    [Fact]
    public void An_issue_that_was_recorded_before_the_packets_last_record_fails()
    {
        var record = JsonNode.Parse(_packet.Read("issue-record.jsonl"))!;
        record["recordedAt"] = "1970-01-01T00:00:00.000000Z";
        _packet.Issue(CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(record)), record["id"]!.GetValue<string>());
        _packet.Sum();
        Fails("before the last record of the packet");
    }

    // The log.

    [Fact]
    public void Records_whose_times_fall_along_the_log_fail()
    {
        // The order of the lines tells nothing: the places in the log do.
        byte[][] log = [.. _packet.Log];
        (log[17], log[255]) = (log[255], log[17]);
        var hashes = log.Select(b => Merkle.LeafHash(b)).ToArray();
        int[] places = [0, 5, 255, 17, 256, 299];
        var checkpoint = new Checkpoint("plant.example/records", 300, Merkle.Root(hashes));
        _packet.Write("checkpoint.txt", Encoding.UTF8.GetBytes(checkpoint.Sign(_packet.Key)));
        var root = Convert.ToHexStringLower(checkpoint.Root);
        _packet.Write("proofs.json", JsonSerializer.SerializeToUtf8Bytes(new
        {
            origin = checkpoint.Origin, size = 300, root,
            proofs = places.Select((index, i) => new { record = _packet.Ids[i], index, hashes = Merkle.InclusionRanges(index, 300).Select(r => Convert.ToHexStringLower(Merkle.Root(hashes[(int)r.Low..(int)r.High]))) }),
        }));
        _packet.Seal(manifest: m => m["log"]!["root"] = root);

        Fails("says that it was recorded at 1970-01-01T00:17:00.000000Z, before one that stands in front of it (1970-01-01T04:15:00.000000Z)");
    }

    [Fact]
    public void A_kept_checkpoint_of_a_forked_history_at_another_size_fails_by_its_signature_or_proves_nothing()
    {
        var forked = new Checkpoint("plant.example/records", 299, Merkle.EmptyRoot);
        var nobody = _packet.Beside("nobody", Encoding.UTF8.GetBytes(forked.Text() + "\n"));
        var other = _packet.Beside("other", Encoding.UTF8.GetBytes(forked.Sign(LogKey.Create())));
        var own = _packet.Beside("own", Encoding.UTF8.GetBytes(forked.Sign(_packet.Key)));

        Fails("the checkpoint you hold: The key you gave did not sign it: it is signed by nobody", "--checkpoint", nobody);
        Fails("the checkpoint you hold: The key you gave did not sign it", "--checkpoint", other);
        Is(Command.NotProved, "nothing shows that one continues the other", Check("--key", _packet.KeyFile(), "--checkpoint", own));
    }

    [Theory]
    [InlineData("\"\"")]
    [InlineData("\"00\"")]
    [InlineData("\"zz\"")]
    [InlineData("7")]
    [InlineData("null")]
    public void Hashes_that_are_not_of_32_bytes_are_no_consistency_proof(string odd)
    {
        var hashes = _packet.Log.Select(b => Merkle.LeafHash(b)).ToArray();
        var kept = _packet.Beside("kept", Encoding.UTF8.GetBytes(new Checkpoint("plant.example/records", 128, Merkle.Root(hashes.Take(128))).Sign(_packet.Key)));
        var genuine = Merkle.ConsistencyRanges(128, 300).Select(r => $"\"{Convert.ToHexStringLower(Merkle.Root(hashes[(int)r.Low..(int)r.High]))}\"").ToList();

        string Answer(IEnumerable<string> proof) => _packet.Beside("answer", Encoding.UTF8.GetBytes($"{{\"hashes\":[{string.Join(',', proof)}]}}"));
        Assert.Equal(Command.Ok, Check("--key", _packet.KeyFile(), "--checkpoint", kept, "--consistency", Answer(genuine)).Exit);
        Fails("does not show", "--checkpoint", kept, "--consistency", Answer([.. genuine, odd]));
        Fails("does not show", "--checkpoint", kept, "--consistency", Answer([odd, .. genuine.Skip(1)]));
    }

    // Keys.

    [Fact]
    public void A_key_that_is_none_is_named_and_the_call_was_wrong()
    {
        static string Line(byte[] bytes) => $"x.example/log+{Convert.ToHexStringLower(SHA256.HashData([.. "x.example/log\n"u8, 1, .. bytes])[..4])}+{Convert.ToBase64String([1, .. bytes])}";
        // RFC 8032, 5.1.3: no point has this y; and the points of small order, under which a signature says nothing.
        foreach (var bytes in (string[])["0200000000000000000000000000000000000000000000000000000000000000", "0100000000000000000000000000000000000000000000000000000000000000",
            "0000000000000000000000000000000000000000000000000000000000000000", "ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff", "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a"])
        {
            var line = Line(Convert.FromHexString(bytes));
            Is(Command.Usage, "its bytes are no such point", Check("--key", line));
            var pem = _packet.Beside("odd.pem", Encoding.ASCII.GetBytes(PemEncoding.WriteString("PUBLIC KEY", Convert.FromHexString("302a300506032b6570032100" + bytes))));
            Is(Command.Usage, "its bytes are no such point", Check("--key", pem, "--origin", "x.example/log"));
        }

        Is(Command.Usage, "private key", Check("--key", _packet.Beside("secret.pem", Encoding.ASCII.GetBytes(_packet.Key.PrivatePem()))));
        Is(Command.Usage, "is not there, and is no key line", Check("--key", "no-such-key.pem"));
        Is(Command.Usage, "neither a PEM file", Check("--key", _packet.Beside("odd.key", [0xff, 0x00])));
        Is(Command.Usage, "not an Ed25519 public key", Check("--key", _packet.Beside("rsa.pem", Encoding.ASCII.GetBytes("-----BEGIN PUBLIC KEY-----\nAAAA\n-----END PUBLIC KEY-----\n"))));
    }

    // Odd JSON.

    public static TheoryData<string, string> Texts => new()
    {
        { "manifest.json", "" }, { "manifest.json", "nonsense" }, { "manifest.json", "[]" }, { "manifest.json", "{\"units\":{}}" }, { "manifest.json", "{\"format\":1}" }, { "manifest.json", "{\"packet\":\"\\ud800\"}" },
        { "proofs.json", "{\"proofs\":[{\"record\":null}]}" }, { "proofs.json", "{\"proofs\":{}}" }, { "proofs.json", "{\"size\":1e999}" }, { "proofs.json", "\ufeff{}" },
        { "findings.json", "[{\"unit\":\"\\udc00\"}]" }, { "issue-proof.json", "{\"proofs\":[1]}" }, { "issue-proof.json", "{\"consistency\":\"x\"}" }, { "issue-record.jsonl", "" }, { "issue-record.jsonl", "\n" },
        { "issue-record.jsonl", "{}\n" }, { "issue-record.jsonl", "{}\n{}\n" }, { "issue-record.jsonl", "{\"continues\":{}}\n" }, { "checkpoint.txt", "" }, { "checkpoint.txt", "\n\n\n" }, { "SHA256SUMS", "\0" }, { "records.jsonl", "\u0000" },
    };

    [Theory, MemberData(nameof(Texts))]
    public void A_text_that_is_none_of_a_packets_fails_with_a_sentence(string file, string text)
    {
        _packet.Write(file, Encoding.UTF8.GetBytes(text));
        var (exit, said) = Check("--key", _packet.KeyFile());
        Assert.True(exit == Command.Failed, said);
        Assert.Contains($"WRONG  {file}", said, StringComparison.Ordinal);
        if (file == "SHA256SUMS") return;
        _packet.Sum();
        Assert.Equal(Command.Failed, Check("--key", _packet.KeyFile()).Exit);
    }

    [Fact]
    public void Json_nested_without_end_fails()
    {
        _packet.Write("findings.json", Encoding.ASCII.GetBytes(new string('[', 100_000) + new string(']', 100_000)));
        _packet.Seal();
        Fails("findings.json: It is not a JSON text as a packet has it");
    }

    // The zip file and the folder.

    private string Zip(Action<List<(string Name, byte[] Content)>>? change = null, Func<byte[], byte[]>? bytes = null)
    {
        var entries = Directory.GetFiles(_packet.Path).Order(StringComparer.Ordinal).Select(f => (Path.GetFileName(f), File.ReadAllBytes(f))).ToList();
        change?.Invoke(entries);
        using var stream = new MemoryStream();
        using (var zip = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            foreach (var (name, content) in entries)
            {
                using var entry = zip.CreateEntry(name).Open();
                entry.Write(content);
            }
        }

        return _packet.Beside("made.zip", bytes is null ? stream.ToArray() : bytes(stream.ToArray()));
    }

    private void ZipFails(string expected, string zip) => Is(Command.Failed, expected, Run(zip, "--key", _packet.KeyFile()));

    [Fact]
    public void A_plain_zip_file_is_proved_also_one_that_another_program_made()
    {
        Assert.Equal(Command.Ok, Run(Zip(), "--key", _packet.KeyFile()).Exit);
        // Python's zipfile (its own implementation) to a pipe writes descriptors behind the content.
        foreach (var script in (string[])["import sys,zipfile,os\nz=zipfile.ZipFile(sys.argv[1],'w',zipfile.ZIP_DEFLATED)\nfor f in os.listdir('.'): z.write(f,'packet/'+f)\nz.close()",
            "import sys,zipfile,os\nclass W:\n  def __init__(s,f): s.f=f\n  def write(s,b): return s.f.write(b)\n  def flush(s): s.f.flush()\nf=open(sys.argv[1],'wb')\nz=zipfile.ZipFile(W(f),'w',zipfile.ZIP_DEFLATED)\nfor n in os.listdir('.'): z.write(n)\nz.close();f.close()"])
        {
            var path = _packet.Beside("python.zip", []);
            using var python = Process.Start(new ProcessStartInfo("python3", ["-c", script, path]) { WorkingDirectory = _packet.Path })!;
            python.WaitForExit();
            var (exit, said) = Run(path, "--key", _packet.KeyFile());
            Assert.True(exit == Command.Ok, said);
        }
    }

    [Theory]
    [InlineData("../")]
    [InlineData("/")]
    [InlineData("..\\")]
    [InlineData("C:")]
    [InlineData("packet/../../")]
    [InlineData("./")]
    [InlineData("packet\\")]
    public void Entries_that_would_be_unpacked_somewhere_else_fail(string prefix)
    {
        Assert.Equal(Command.Failed, Run(Zip(e => { for (var i = 0; i < e.Count; i++) e[i] = (prefix + e[i].Name, e[i].Content); }), "--key", _packet.KeyFile()).Exit);
        ZipFails("", Zip(e => e.Add((prefix + "extra", "x"u8.ToArray()))));
    }

    [Fact]
    public void Folders_hidden_content_and_names_twice_fail()
    {
        ZipFails("does not belong", Zip(e => e.Add(("empty/", []))));
        ZipFails("does not belong", Zip(e => e.Add(("folder/", "hidden"u8.ToArray()))));
        ZipFails("has content", Zip(e => { for (var i = 0; i < e.Count; i++) e[i] = ("p/" + e[i].Name, e[i].Content); e.Add(("p/", "hidden"u8.ToArray())); }));
        ZipFails("twice", Zip(e => e.Add(("packet.pdf", "%PDF another"u8.ToArray()))));
        ZipFails("twice", Zip(e => e.Add(("PACKET.PDF", "%PDF another"u8.ToArray()))));
        ZipFails("other characters", Zip(e => e.Add(("packet.pdf\u202e", [])), b => b));
        ZipFails("more than", Zip(e => e.AddRange(Enumerable.Range(0, 2001).Select(i => ($"f{i}", Array.Empty<byte>())))));
        var (exit, said) = Run(Zip(e => e.Add(("x\n  ok     all\nProved: y", []))), "--key", _packet.KeyFile());
        Assert.Equal(Command.Failed, exit);
        Assert.DoesNotContain(said.Split('\n'), l => l.StartsWith("Proved", StringComparison.Ordinal));
    }

    [Fact]
    public void Bytes_that_the_directory_does_not_cover_fail()
    {
        ZipFails("bytes lie between its entries before", Zip(bytes: b => Moved([.. "MZ hidden"u8, .. b], 9)));
        ZipFails("bytes follow the end", Zip(bytes: b => [.. b, .. "hidden"u8]));
        ZipFails("comment", Zip(bytes: b => { b[^2] = 3; return [.. b, .. "all"u8]; }));
        // A whole second entry between the last one and the directory, and one in front of the first.
        var second = LocalEntry("packet.pdf", "%PDF-1.7 another"u8.ToArray());
        ZipFails("bytes lie between its last entry and its directory", Zip(bytes: b => Inserted(b, DirectoryStart(b), second)));
        ZipFails("bytes lie between its entries before", Zip(bytes: b => Moved([.. second, .. b], second.Length)));
        ZipFails("its directory does not end where the file ends", Zip(bytes: b => Inserted(b, b.Length - 22, "hidden"u8.ToArray(), move: false)));
    }

    [Fact]
    public void A_local_header_that_says_something_else_than_the_directory_fails()
    {
        ZipFails("says of itself something else", Zip(bytes: b => { b[30] = (byte)'X'; return b; }));
        ZipFails("says of itself something else", Zip(bytes: b => { b[22] ^= 1; return b; }));
        ZipFails("says of itself something else", Zip(bytes: b => { b[8] ^= 8; return b; }));
        ZipFails("has not the bytes it says", Zip(bytes: b => { b[14] ^= 1; b[DirectoryStart(b) + 16] ^= 1; return b; }));
    }

    [Fact]
    public void Links_comments_additions_and_ways_of_packing_that_are_not_plain_fail()
    {
        ZipFails("is a link", Zip(bytes: b => { b[DirectoryStart(b) + 41] = 0xa1; return b; }));
        ZipFails("packed in a way", Zip(bytes: b => { b[8] = b[DirectoryStart(b) + 10] = 14; return b; }));
        ZipFails("encrypted", Zip(bytes: b => { b[6] |= 1; b[DirectoryStart(b) + 8] |= 1; return b; }));
    }

    [Fact]
    public void Bytes_behind_the_packed_content_of_an_entry_fail()
    {
        // The last entry, made anew with bytes behind the end of its deflate stream.
        using var packed = new MemoryStream();
        using (var deflate = new DeflateStream(packed, CompressionLevel.Optimal, leaveOpen: true)) deflate.Write(_packet.Read("packet.pdf"));
        foreach (var hidden in (int[])[1, 40, 100, 5000])
        {
            var zip = Handmade("packet.pdf", _packet.Read("packet.pdf"), [.. packed.ToArray(), .. new byte[hidden]]);
            ZipFails("bytes lie behind the packed content of packet.pdf", _packet.Beside("handmade.zip", zip));
        }

        Assert.Equal(Command.Ok, Run(_packet.Beside("handmade.zip", Handmade("packet.pdf", _packet.Read("packet.pdf"), packed.ToArray())), "--key", _packet.KeyFile()).Exit);
    }

    [Fact]
    public void A_damaged_zip_fails_with_a_clear_sentence()
    {
        foreach (var odd in (byte[][])[[], "PK"u8.ToArray(), new byte[22], new byte[5000], Encoding.ASCII.GetBytes(new string('x', 100))])
            ZipFails("is not a whole zip file", _packet.Beside("odd.zip", odd));
        var whole = File.ReadAllBytes(Zip());
        for (var at = 0; at < whole.Length; at += 97) Assert.Equal(Command.Failed, Run(_packet.Beside("cut.zip", whole[..at]), "--key", _packet.KeyFile()).Exit);
    }

    [Fact]
    public void One_bit_changed_anywhere_in_the_zip_file_is_never_proved_as_another_packet()
    {
        var whole = File.ReadAllBytes(Zip());
        var random = new Random(20261126);
        for (var i = 0; i < 1500; i++)
        {
            var changed = (byte[])whole.Clone();
            var at = random.Next(changed.Length);
            changed[at] ^= (byte)(1 << random.Next(8));
            var (exit, said) = Run(_packet.Beside("bit.zip", changed), "--key", _packet.KeyFile());
            // Times and versions of entries are not held against anything: they say nothing of the files.
            Assert.True(exit == Command.Failed || (exit == Command.Ok && said.Contains("PK-2026-0001", StringComparison.Ordinal)), $"byte {at}: {exit} {said}");
            if (exit != Command.Ok) continue;
            var folder = _packet.Path + ".bit";
            Assert.Equal(Command.Ok, Run(_packet.Beside("bit.zip", changed), "--key", _packet.KeyFile(), "--extract", folder).Exit);
            foreach (var file in Directory.GetFiles(_packet.Path)) Assert.Equal(File.ReadAllBytes(file), File.ReadAllBytes(Path.Combine(folder, Path.GetFileName(file))));
            Directory.Delete(folder, recursive: true);
        }
    }

    [Fact]
    public void A_folder_with_links_or_folders_fails()
    {
        Directory.CreateDirectory(Path.Combine(_packet.Path, "more"));
        Fails("does not belong");
        Directory.Delete(Path.Combine(_packet.Path, "more"));
        var secret = _packet.Beside("outside.pdf", _packet.Read("packet.pdf"));
        _packet.Delete("packet.pdf");
        File.CreateSymbolicLink(Path.Combine(_packet.Path, "packet.pdf"), secret);
        Fails("is a link to another place");
    }

    [Fact]
    public void What_was_checked_and_nothing_else_is_extracted()
    {
        var folder = _packet.Path + ".out";
        var (exit, said) = Run(Zip(), "--key", _packet.KeyFile(), "--extract", folder);
        Assert.True(exit == Command.Ok, said);
        Assert.Equal(Directory.GetFiles(_packet.Path).Select(Path.GetFileName).Order(StringComparer.Ordinal), Directory.GetFileSystemEntries(folder).Select(Path.GetFileName).Order(StringComparer.Ordinal));
        foreach (var file in Directory.GetFiles(_packet.Path)) Assert.Equal(File.ReadAllBytes(file), File.ReadAllBytes(Path.Combine(folder, Path.GetFileName(file))));
        Is(Command.Usage, "is there and not empty", Run(Zip(), "--key", _packet.KeyFile(), "--extract", folder));
        Directory.Delete(folder, recursive: true);

        Assert.Equal(Command.Failed, Run(Zip(e => e.Add(("letter.txt", "x"u8.ToArray()))), "--key", _packet.KeyFile(), "--extract", folder).Exit);
        Assert.False(Directory.Exists(folder));
    }

    // Bombs: a megabyte that unpacks to hundreds.

    public static TheoryData<string> Bombs => ["extra", "packet.pdf", "records.jsonl", "lines", "findings.json", "proofs.json", "members", "manifest.json", "checkpoint.txt", "SHA256SUMS"];

    [Theory, MemberData(nameof(Bombs))]
    public void A_megabyte_that_unpacks_to_hundreds_stays_under_200_MB_of_memory(string bomb)
    {
        byte[] Filled(int megabytes, string with)
        {
            var one = Encoding.ASCII.GetBytes(with);
            var all = new byte[megabytes << 20];
            for (var i = 0; i < all.Length; i += one.Length) one.AsSpan(0, Math.Min(one.Length, all.Length - i)).CopyTo(all.AsSpan(i));
            return all;
        }

        var (file, content) = bomb switch
        {
            "extra" => ("extra.bin", Filled(600, "\0")),
            "lines" => ("records.jsonl", Filled(600, "\n")),
            "records.jsonl" => ("records.jsonl", Filled(600, "a")),
            "findings.json" => ("findings.json", [.. "["u8, .. Filled(31, "0,"), .. "0]"u8]),
            "proofs.json" => ("proofs.json", [.. "{\"proofs\":["u8, .. Filled(31, "[{}],"), .. "0]}"u8]),
            "members" => ("findings.json", [.. "[\""u8, .. Filled(31, "x"), .. "\"]"u8]),
            "manifest.json" => ("manifest.json", [.. "{\"units\":["u8, .. Filled(7, "\"\","), .. "0]}"u8]),
            _ => (bomb, Filled(600, "7")),
        };
        var zip = Zip(e => { e.RemoveAll(x => x.Name == file); e.Add((file, content)); });
        content = [];
        Assert.InRange(new FileInfo(zip).Length, 1, 1 << 20);

        var program = Path.Combine(AppContext.BaseDirectory, "traceability-verify.dll");
        // The kernel's own account of the largest memory, read by the shell that waited for the program.
        using var process = Process.Start(new ProcessStartInfo("python3", ["-c", "import resource,subprocess,sys\nr=subprocess.run(sys.argv[1:],stdout=subprocess.DEVNULL)\nprint(r.returncode,resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)", "dotnet", program, zip, "--key", _packet.KeyFile()]) { RedirectStandardOutput = true })!;
        var said = process.StandardOutput.ReadToEnd().Split(' ');
        process.WaitForExit();
        Assert.Equal("1", said[0]);
        Assert.InRange(int.Parse(said[1], System.Globalization.CultureInfo.InvariantCulture) / 1024, 10, 200);
    }

    // Handmade zip files.

    private static int DirectoryStart(byte[] zip) => BitConverter.ToInt32(zip, zip.Length - 6);

    /// <summary>The zip file with all its places moved on, as a program would read it that has bytes in front of it.</summary>
    private static byte[] Moved(byte[] zip, int by)
    {
        var start = DirectoryStart(zip) + by;
        for (var at = start; at < zip.Length - 22; at += 46 + BitConverter.ToUInt16(zip, at + 28) + BitConverter.ToUInt16(zip, at + 30))
            BitConverter.TryWriteBytes(zip.AsSpan(at + 42), BitConverter.ToInt32(zip, at + 42) + by);
        BitConverter.TryWriteBytes(zip.AsSpan(zip.Length - 6), start);
        return zip;
    }

    private static byte[] Inserted(byte[] zip, int at, byte[] bytes, bool move = true)
    {
        byte[] all = [.. zip[..at], .. bytes, .. zip[at..]];
        if (move) BitConverter.TryWriteBytes(all.AsSpan(all.Length - 6), DirectoryStart(all) + bytes.Length);
        return all;
    }

    private static byte[] LocalEntry(string name, byte[] content)
    {
        using var stream = new MemoryStream();
        using (var zip = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            using var entry = zip.CreateEntry(name).Open();
            entry.Write(content);
        }

        var all = stream.ToArray();
        return all[..DirectoryStart(all)];
    }

    /// <summary>The packet's zip file in which one entry has the packed bytes given.</summary>
    private byte[] Handmade(string name, byte[] content, byte[] packed)
    {
        using var local = new MemoryStream();
        using var central = new MemoryStream();
        var count = 0;
        foreach (var file in Directory.GetFiles(_packet.Path).Order(StringComparer.Ordinal))
        {
            var bytes = File.ReadAllBytes(file);
            var own = Path.GetFileName(file);
            var (method, data) = own == name ? ((ushort)8, packed) : ((ushort)0, bytes);
            var header = new byte[26];
            BitConverter.TryWriteBytes(header.AsSpan(0), (ushort)20);
            BitConverter.TryWriteBytes(header.AsSpan(4), method);
            BitConverter.TryWriteBytes(header.AsSpan(10), Crc(own == name ? content : bytes));
            BitConverter.TryWriteBytes(header.AsSpan(14), data.Length);
            BitConverter.TryWriteBytes(header.AsSpan(18), bytes.Length);
            BitConverter.TryWriteBytes(header.AsSpan(22), (ushort)own.Length);
            var at = (int)local.Position;
            local.Write([0x50, 0x4b, 3, 4, .. header, .. Encoding.ASCII.GetBytes(own), .. data]);
            central.Write([0x50, 0x4b, 1, 2, 20, 0, .. header, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, .. BitConverter.GetBytes(at), .. Encoding.ASCII.GetBytes(own)]);
            count++;
        }

        return [.. local.ToArray(), .. central.ToArray(), 0x50, 0x4b, 5, 6, 0, 0, 0, 0, .. BitConverter.GetBytes((ushort)count), .. BitConverter.GetBytes((ushort)count),
            .. BitConverter.GetBytes((int)central.Length), .. BitConverter.GetBytes((int)local.Length), 0, 0];
    }

    /// <summary>CRC-32 as zip files have it, by what the runtime writes into one.</summary>
    private static uint Crc(byte[] content) => BitConverter.ToUInt32(LocalEntry("x", content), 14);
}
