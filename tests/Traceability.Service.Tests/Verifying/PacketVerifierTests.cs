using System.Diagnostics;
using System.Text;
using System.Text.Json;
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
        foreach (var key in (string[])[_packet.KeyFile(), _packet.Key.VerifierKey("plant.example/records"),
            _packet.Beside("vkey", Encoding.UTF8.GetBytes(_packet.Key.VerifierKey("plant.example/records") + "\n"))])
        {
            var (exit, said) = Check("--key", key);
            Assert.True(exit == Command.Ok, said);
            Assert.Contains("Proved: 6 records are in the log plant.example/records as signed at 300 records.", said, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Without_a_key_the_origin_is_not_established()
    {
        var (exit, said) = Check();

        Assert.Equal(Command.Ok, exit);
        Assert.Contains("Consistent, origin not established", said, StringComparison.Ordinal);
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

    [Fact]
    public void A_checkpoint_kept_from_before_establishes_the_origin_if_it_is_the_same()
    {
        var (exit, said) = Check("--checkpoint", _packet.Beside("kept", _packet.Read("checkpoint.txt")));

        Assert.Equal(Command.Ok, exit);
        Assert.Contains("the same as the checkpoint you hold", said, StringComparison.Ordinal);
        Assert.Contains("Proved", said, StringComparison.Ordinal);
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

        var (exit, said) = Check("--checkpoint", kept);
        Assert.Equal(Command.Ok, exit);
        Assert.Contains($"/v1/log/consistency?from={size}&to=300", said, StringComparison.Ordinal);
        Assert.Contains("origin not established", said, StringComparison.Ordinal);
        Assert.Contains("Proved", Check("--checkpoint", kept, "--consistency", Answer(size)).Said, StringComparison.Ordinal);
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
        var key = _packet.KeyFile();
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
        Assert.Equal(7, sums.Split('\n').Count(l => l.EndsWith(": OK", StringComparison.Ordinal)));
        Assert.Contains("Verified Successfully", Shell(
            $"openssl pkeyutl -verify -pubin -inkey {key} -rawin -in manifest.json -sigfile manifest.sig"), StringComparison.Ordinal);
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
