using System.Diagnostics;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Service.Log;
using Traceability.Verifier;

namespace Traceability.Service.Tests.Verifying;

public sealed class PacketVerifierTests : IDisposable
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

    private void Fails(string expected, params string[] more)
    {
        var (exit, said) = Check(more);
        Assert.True(exit == Command.Failed, said);
        Assert.Contains(expected, said, StringComparison.Ordinal);
    }

    [Fact]
    public void A_packet_as_issued_is_proved_with_the_plants_key()
    {
        foreach (var key in (string[][])[["--key", _packet.KeyFile()], ["--key", _packet.Key.VerifierKey("plant.example/records")], ["--key", _packet.PemFile(), "--origin", "plant.example/records"]])
        {
            var (exit, said) = Check(key);
            Assert.True(exit == Command.Ok, said);
            Assert.Contains("Proved: this is the packet that the holder of the key issued. Its 6 records are in the log plant.example/records as signed at 300 records.", said, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void It_says_which_packet_it_is_of_which_contract_and_units_issued_when_by_whom_and_what_is_pending()
    {
        var said = Check("--key", _packet.KeyFile()).Said;
        Assert.Matches(@"Packet\s+PK-2026-0001\n\s+contract\s+C-2026-014\n\s+units\s+RF-0101\n\s+issued\s+2026-03-20T15:00:00Z by p-101\n\s+pending\s+1\n\s+RF-0101: acceptance.strength \(cylinders of 2026-03-02\)\n", said.ReplaceLineEndings("\n"));

        using var json = JsonDocument.Parse(Check("--key", _packet.KeyFile(), "--json").Said);
        var about = json.RootElement.GetProperty("about");
        Assert.Equal(("proved", 0, "PK-2026-0001", "C-2026-014", "2026-03-20T15:00:00Z", "p-101", false), (json.RootElement.GetProperty("result").GetString(), json.RootElement.GetProperty("exitCode").GetInt32(),
            about.GetProperty("packet").GetString(), about.GetProperty("contract").GetString(), about.GetProperty("issuedAt").GetString(), about.GetProperty("issuedBy").GetString(), about.GetProperty("draft").GetBoolean()));
        Assert.Equal("RF-0101", Assert.Single(about.GetProperty("units").EnumerateArray()).GetString());
        Assert.Equal("acceptance.strength", Assert.Single(about.GetProperty("pending").EnumerateArray()).GetProperty("requirement").GetString());
    }

    [Fact]
    public void Without_a_key_the_origin_is_not_established()
    {
        var (exit, said) = Check();

        Assert.Equal(Command.NotProved, exit);
        Assert.Contains("Consistent, origin not established", said, StringComparison.Ordinal);
        Assert.Contains("No signature was checked, because no key from elsewhere was given", said, StringComparison.Ordinal);
        Assert.DoesNotContain("Proved", said, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("")]
    [InlineData("packet-RF-0101/")]
    public void A_zip_file_is_a_packet_too(string prefix)
    {
        var (exit, said) = Run(_packet.Zip(prefix), "--key", _packet.KeyFile());

        Assert.True(exit == Command.Ok, said);
    }

    [Fact]
    public void The_program_itself_says_the_same_as_the_command()
    {
        var (program, key) = (Path.Combine(AppContext.BaseDirectory, "traceability-verify.dll"), _packet.KeyFile());
        using var process = Process.Start(new ProcessStartInfo("dotnet", [program, _packet.Path, "--key", key]) { RedirectStandardOutput = true })!;
        var said = process.StandardOutput.ReadToEnd();
        process.WaitForExit();

        Assert.True(process.ExitCode == Command.Ok, said);
        Assert.Equal(Check("--key", key).Said, said);
    }

    [Fact]
    public void A_changed_record_is_named_by_line_id_type_and_subject()
    {
        _packet.Change("records.jsonl", "\"coverIn\":\"2\"", "\"coverIn\":\"3\"", line: 3);

        Fails($"records.jsonl, line 3: The record was changed: record {_packet.Ids[2]} (cage.tied.v1 of cage:C-17)", "--key", _packet.KeyFile());
        var said = Check("--key", _packet.KeyFile()).Said;
        Assert.Contains("SHA256SUMS says", said, StringComparison.Ordinal);
        Assert.All(_packet.Ids.Where(i => i != _packet.Ids[2]), other => Assert.DoesNotContain(other, said, StringComparison.Ordinal));
    }

    [Fact]
    public void A_changed_record_is_named_even_if_sums_and_manifest_were_made_to_fit()
    {
        _packet.Change("records.jsonl", "\"coverIn\":\"2\"", "\"coverIn\":\"3\"", line: 3);
        _packet.Seal(LogKey.Create());

        Fails($"The record or its proof was changed: record {_packet.Ids[2]} (cage.tied.v1 of cage:C-17)");
        Fails("did not sign this manifest.json", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_changed_finding_is_seen_by_the_manifest_the_key_signed()
    {
        _packet.Change("findings.json", "\"met\"", "\"not met\"");
        _packet.Sum();
        Fails("findings.json: The file is not the one the manifest was made over");

        _packet.Seal(LogKey.Create());
        Fails("findings.json: The judgement of unit RF-0101 is not the one the manifest lists.");
        Fails("manifest.sig: The key you gave did not sign this manifest.json", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_finding_that_names_a_record_not_here_is_named()
    {
        _packet.Change("findings.json", _packet.Ids[2], "6b1f0a7c-1111-5222-8333-444455556666");
        _packet.Seal();

        Fails("findings.json: [0].findings[0].used[1] names record 6b1f0a7c-1111-5222-8333-444455556666", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_judgement_listed_and_not_there_is_named()
    {
        _packet.Change("findings.json", "unit:RF-0101", "unit:RF-0102");
        _packet.Seal();

        Fails("findings.json: The manifest lists a judgement of unit RF-0101, which is not here.", "--key", _packet.KeyFile());
        Fails("It holds a judgement of unit:RF-0102, which is none of the packet's units.", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_dropped_proof_is_named()
    {
        var proofs = System.Text.Json.Nodes.JsonNode.Parse(_packet.Read("proofs.json"))!;
        proofs["proofs"]!.AsArray().RemoveAt(1);
        _packet.Write("proofs.json", JsonSerializer.SerializeToUtf8Bytes(proofs));
        _packet.Seal();

        Fails($"There is no proof of record {_packet.Ids[1]} (cage.tied.v1 of cage:C-5), line 2", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_changed_proof_is_told_from_a_changed_record()
    {
        _packet.Change("proofs.json", "\"index\":17", "\"index\":18");
        _packet.Sum();

        Fails($"proofs.json: The proof was changed: record {_packet.Ids[2]}", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_record_with_a_proof_of_another_record_is_named()
    {
        _packet.Change("proofs.json", _packet.Ids[2], _packet.Ids[3]);
        _packet.Seal();

        Fails($"A proof is of record {_packet.Ids[3]}, which records.jsonl does not have, or which has a proof already", "--key", _packet.KeyFile());
        Fails($"There is no proof of record {_packet.Ids[2]}", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_dropped_record_is_named()
    {
        var lines = Encoding.UTF8.GetString(_packet.Read("records.jsonl")).Split('\n');
        _packet.Write("records.jsonl", Encoding.UTF8.GetBytes(string.Join('\n', lines.Where((_, i) => i != 2))));
        _packet.Seal();

        Fails($"A proof is of record {_packet.Ids[2]}, which records.jsonl does not have", "--key", _packet.KeyFile());
        Fails($"used[1] names record {_packet.Ids[2]}", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_record_line_twice_is_named()
    {
        var lines = Encoding.UTF8.GetString(_packet.Read("records.jsonl"));
        _packet.Write("records.jsonl", Encoding.UTF8.GetBytes(lines + lines.Split('\n')[0] + "\n"));
        _packet.Seal();

        Fails($"record {_packet.Ids[0]} (cage.tied.v1 of cage:C-0) is already in line 1", "--key", _packet.KeyFile());
    }

    [Fact]
    public void Another_key_is_named()
    {
        var other = LogKey.Create();
        var hash = Convert.ToHexStringLower(SignedNote.KeyHash("plant.example/records", other.PublicKey));

        Fails($"yours is key {hash}", "--key", _packet.KeyFile(other));
        Fails("manifest.sig: The key you gave did not sign", "--key", _packet.KeyFile(other));
        Fails("The key you gave is of elsewhere.example/records", "--key", _packet.Key.VerifierKey("elsewhere.example/records"));
    }

    [Fact]
    public void A_checkpoint_changed_after_signing_is_named()
    {
        _packet.Change("checkpoint.txt", "300", "301");
        _packet.Seal();

        Fails("checkpoint.txt: The signature does not fit the text", "--key", _packet.KeyFile());
        Fails("speaks of log plant.example/records at 300 records");
    }

    [Theory]
    [InlineData("packet.pdf")]
    [InlineData("records.jsonl")]
    [InlineData("findings.json")]
    [InlineData("proofs.json")]
    [InlineData("checkpoint.txt")]
    [InlineData("manifest.json")]
    [InlineData("manifest.sig")]
    [InlineData("SHA256SUMS")]
    [InlineData("issue-record.jsonl")]
    [InlineData("issue-proof.json")]
    [InlineData("issue-checkpoint.txt")]
    public void A_missing_file_is_named(string name)
    {
        _packet.Delete(name);

        Fails($"{name}: The file is missing.", "--key", _packet.KeyFile());
    }

    [Theory]
    [InlineData("packet.pdf")]
    [InlineData("records.jsonl")]
    [InlineData("findings.json")]
    [InlineData("proofs.json")]
    [InlineData("checkpoint.txt")]
    [InlineData("manifest.json")]
    [InlineData("manifest.sig")]
    [InlineData("issue-record.jsonl")]
    [InlineData("issue-proof.json")]
    [InlineData("issue-checkpoint.txt")]
    public void One_changed_byte_anywhere_in_a_file_is_seen_and_the_file_named(string name)
    {
        var bytes = _packet.Read(name);
        for (var at = 0; at < bytes.Length; at += Math.Max(1, bytes.Length / 40))
        {
            var changed = (byte[])bytes.Clone();
            changed[at] ^= 0x04;
            _packet.Write(name, changed);
            Fails($"WRONG  {name}", "--key", _packet.KeyFile());
        }
    }

    [Fact]
    public void A_file_too_many_is_named()
    {
        _packet.Write("letter.txt", "please accept"u8.ToArray());

        Fails("letter.txt: The file does not belong in a packet.", "--key", _packet.KeyFile());
        Fails("letter.txt is not listed.", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_record_whose_id_is_not_that_of_its_event_is_named()
    {
        _packet.Change("records.jsonl", $"\"id\":\"{_packet.Ids[2]}\"", "\"id\":\"6b1f0a7c-1111-5222-8333-444455556666\"", line: 3);

        Fails($"The record's id is not the one of its event: source /plant/cage-1 and id cage-event-17 give {_packet.Ids[2]}");
    }

    [Theory]
    [InlineData("\"coverIn\":\"2\"", "\"coverIn\": \"2\"")]
    [InlineData("\"coverIn\":\"2\"", "\"coverIn\":\"\\u0032\"")]
    [InlineData("\"z\":0.1", "\"z\":0.10")]
    public void A_record_written_in_another_form_of_the_same_text_is_named(string old, string @new)
    {
        _packet.Change("records.jsonl", old, @new, line: 3);

        Fails("is not in the form in which records are hashed");
    }

    [Fact]
    public void A_record_with_a_name_twice_is_named()
    {
        _packet.Change("records.jsonl", "\"coverIn\":\"2\"", "\"coverIn\":\"2\",\"coverIn\":\"9\"", line: 3);

        Fails("records.jsonl, line 3: line 3: The line is not a JSON text");
    }

    [Fact]
    public void A_line_that_is_the_start_of_a_log_is_no_record()
    {
        var lines = Encoding.UTF8.GetString(_packet.Read("records.jsonl"));
        _packet.Write("records.jsonl", Encoding.UTF8.GetBytes("{\"continues\":{\"origin\":\"x\",\"size\":1}}\n" + lines));
        _packet.Seal();

        Fails("records.jsonl, line 1: The line is not a record: it is the start of a log.", "--key", _packet.KeyFile());
    }

    [Fact]
    public void A_packet_cannot_give_commands_to_the_terminal()
    {
        _packet.Change("records.jsonl", "cage.tied.v1", "\\u001b[2Jcage", line: 3);

        Assert.DoesNotContain('\u001b', Check().Said);
    }

    [Theory]
    [InlineData("\u202e")]
    [InlineData("\u2066")]
    [InlineData("\u200b")]
    [InlineData("\u0420")]
    [InlineData("\n  ok     everything\nProved: ")]
    [InlineData("\u2028")]
    [InlineData("\r")]
    public void What_is_not_plain_text_reaches_no_terminal_and_no_line_of_its_own(string hidden)
    {
        _packet.Seal(manifest: m => { m["units"] = new JsonArray("RF-0101" + hidden); m["contract"] = hidden + "C-2026-014"; m["packet"] = hidden; });

        foreach (var json in (string[][])[[], ["--json"]])
        {
            var said = Check(["--key", _packet.KeyFile(), .. json]).Said;
            Assert.All(said, c => Assert.True(c is '\n' or (>= ' ' and <= '~'), $"U+{(int)c:x4}"));
            Assert.DoesNotContain(said.Split('\n'), l => l.StartsWith("Proved", StringComparison.Ordinal));
            Assert.DoesNotContain(said.Split('\n'), l => l.StartsWith("  ok     everything", StringComparison.Ordinal));
        }
    }

    [Fact]
    public void A_checkpoint_kept_from_before_is_held_against_the_packets_and_proves_nothing_without_the_key()
    {
        var kept = _packet.Beside("kept", _packet.Read("checkpoint.txt"));

        var (exit, said) = Check("--checkpoint", kept, "--key", _packet.KeyFile());
        Assert.Equal(Command.Ok, exit);
        Assert.Contains("the same as the checkpoint you hold", said, StringComparison.Ordinal);
        Assert.Equal(Command.NotProved, Check("--checkpoint", kept).Exit);
    }

    [Fact]
    public void A_checkpoint_kept_with_another_root_at_the_same_size_is_two_histories()
    {
        var forked = new Checkpoint("plant.example/records", 300, Merkle.EmptyRoot).Sign(_packet.Key);

        Fails("Two histories", "--key", _packet.KeyFile(), "--checkpoint", _packet.Beside("kept", Encoding.UTF8.GetBytes(forked)));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(128)]
    [InlineData(299)]
    public void A_checkpoint_kept_at_another_size_is_continued_by_the_consistency_answer(int size)
    {
        var hashes = _packet.Log.Select(b => Merkle.LeafHash(b)).ToArray();
        var older = new Checkpoint("plant.example/records", size, Merkle.Root(hashes.Take(size))).Sign(_packet.Key);
        var kept = _packet.Beside("kept", Encoding.UTF8.GetBytes(older));
        string Answer(int from) => _packet.Beside("answer", JsonSerializer.SerializeToUtf8Bytes(new
        {
            hashes = Merkle.ConsistencyRanges(from, 300).Select(r => Convert.ToHexStringLower(Merkle.Root(hashes[(int)r.Low..(int)r.High]))),
        }));

        var (exit, said) = Check("--checkpoint", kept, "--key", _packet.KeyFile());
        Assert.Equal(Command.NotProved, exit);
        Assert.Contains($"/v1/log/consistency?from={size}&to=300", said, StringComparison.Ordinal);
        Assert.Contains("Proved", Check("--checkpoint", kept, "--consistency", Answer(size), "--key", _packet.KeyFile()).Said, StringComparison.Ordinal);
        Fails("does not show that the log of 300 records begins with", "--checkpoint", kept, "--consistency", Answer(77));
    }

    [Fact]
    public void The_result_can_be_read_by_programs()
    {
        _packet.Change("records.jsonl", "\"coverIn\":\"2\"", "\"coverIn\":\"3\"", line: 3);

        using var result = JsonDocument.Parse(Check("--json", "--key", _packet.KeyFile()).Said);

        Assert.Equal("failed", result.RootElement.GetProperty("result").GetString());
        Assert.Contains(result.RootElement.GetProperty("problems").EnumerateArray(), p =>
            p.GetProperty("file").GetString() == "records.jsonl" && p.TryGetProperty("line", out var line) && line.GetInt32() == 3
            && p.GetProperty("record").GetString() == _packet.Ids[2]);
    }

    [Fact]
    public void A_call_that_makes_no_sense_is_answered_with_2()
    {
        Assert.Equal(Command.Usage, Run().Exit);
        Assert.Equal(Command.Usage, Run("no-such-packet.zip").Exit);
        Assert.Equal(Command.Usage, Run(_packet.Path, "--origin", "plant.example/records").Exit);
        Assert.Equal(Command.Usage, Run(_packet.Path, "--key", _packet.KeyFile(), "--origin", "elsewhere.example/records").Exit);
        Assert.Equal(Command.Usage, Run(_packet.Path, "--key", _packet.KeyFile(), "--checkpoint", _packet.KeyFile()).Exit);
        Assert.Equal(Command.Usage, Run(_packet.Path, "--colour").Exit);
        Assert.Equal(Command.Usage, Run(_packet.Path, "--key").Exit);
        Assert.Equal(Command.Usage, Run(_packet.Path, "--key", "no-such-key").Exit);
        Assert.Equal(Command.Usage, Run(_packet.Path, "another").Exit);
        Assert.Equal(Command.Usage, Run("--log", "export.jsonl").Exit);
        Assert.Equal(Command.Ok, Run("--help").Exit);
    }

    [Fact]
    public void The_steps_written_down_for_checking_by_hand_work()
    {
        var key = _packet.PemFile();
        string Shell(string script)
        {
            using var process = Process.Start(new ProcessStartInfo("bash", ["-ec", script])
            {
                WorkingDirectory = _packet.Path,
                RedirectStandardOutput = true,
                RedirectStandardError = true,
            })!;
            var said = process.StandardOutput.ReadToEnd() + process.StandardError.ReadToEnd();
            process.WaitForExit();
            Assert.True(process.ExitCode == 0, said);
            return said;
        }

        var sums = Shell("sha256sum -c SHA256SUMS");
        Assert.Equal(10, sums.Split('\n').Count(l => l.EndsWith(": OK", StringComparison.Ordinal)));
        Assert.Contains("Verified Successfully", Shell(
            $$"""
            test "$(openssl dgst -sha256 -binary manifest.json | base64)" = "$(sed -n 3p manifest.sig)"
            head -n 3 manifest.sig > ../$$.body
            tail -n 1 manifest.sig | cut -d' ' -f3 | base64 -d | tail -c 64 > ../$$.sig
            openssl pkeyutl -verify -pubin -inkey {{key}} -rawin -in ../$$.body -sigfile ../$$.sig; rm ../$$.body ../$$.sig
            """), StringComparison.Ordinal);
        Assert.Contains("Verified Successfully", Shell(
            $$"""
            head -n 3 checkpoint.txt > body
            tail -n 1 checkpoint.txt | awk '{print $3}' | base64 -d | tail -c 64 > body.sig
            openssl pkeyutl -verify -pubin -inkey {{key}} -rawin -in body -sigfile body.sig
            """), StringComparison.Ordinal);
        Assert.StartsWith(
            Convert.ToHexStringLower(Merkle.LeafHash(_packet.Log[17])),
            Shell("{ printf '\\000'; sed -n 3p records.jsonl | head -c -1; } | sha256sum"), StringComparison.Ordinal);
    }
}
