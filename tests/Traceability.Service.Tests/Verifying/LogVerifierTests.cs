using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using CsCheck;
using Traceability.Core.Records;
using Traceability.Service.Log;
using Traceability.Verifier;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Tests.Verifying;

public sealed class LogVerifierTests : IDisposable
{
    private readonly SamplePacket _packet = new();

    public void Dispose() => _packet.Dispose();

    private (int Exit, string Said) Check(IEnumerable<byte[]> lines, string? key = null)
    {
        var log = _packet.Beside("log", [.. lines.SelectMany(l => l.Append((byte)'\n'))]);
        using var output = new StringWriter();
        var exit = Command.Run(
            ["--log", log, "--checkpoint", Path.Combine(_packet.Path, "checkpoint.txt"), .. key is null ? (string[])[] : ["--key", key]], output, output);
        return (exit, output.ToString());
    }

    private void Fails(string expected, IEnumerable<byte[]> lines)
    {
        var (exit, said) = Check(lines, _packet.KeyFile());
        Assert.True(exit == Command.Failed, said);
        Assert.Contains(expected, said, StringComparison.Ordinal);
    }

    private static readonly Gen<string> s_text = Gen.OneOf(
        Gen.String[Gen.Char['\u0001', '\u007f'], 0, 8], Gen.String[Gen.Char['\u0001', '\ud7ff'], 0, 5],
        Gen.String[Gen.Char['\ue000', '\uffff'], 0, 3], Gen.Int[0x10000, 0x10ffff].Select(char.ConvertFromUtf32));

    private static readonly Gen<JsonNode?> s_value = Gen.OneOf(
        s_text.Select(t => (JsonNode?)JsonValue.Create(t)),
        Gen.OneOf(Gen.Double, Gen.ULong.Select(BitConverter.UInt64BitsToDouble), Gen.Int.Select(i => i / 1000.0), Gen.Int.Select(i => i * 1e15))
            .Where(double.IsFinite).Select(n => (JsonNode?)JsonValue.Create(n)),
        Gen.Bool.Select(b => (JsonNode?)JsonValue.Create(b)));

    /// <summary>Two independent writers of RFC 8785 must agree: ours in the service and the verifier's own.</summary>
    [Fact]
    public void Whatever_a_fact_holds_the_verifier_finds_its_bytes_in_canonical_form()
    {
        Gen.Select(s_text, s_value).Array[0, 12].Array[1, 20].Sample(facts =>
        {
            byte[][] lines = [.. facts.Select((members, i) =>
            {
                var data = new JsonObject(members.DistinctBy(m => m.Item1).Select(m => KeyValuePair.Create(m.Item1, m.Item2?.DeepClone())));
                var sent = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new JsonObject
                {
                    ["specversion"] = "1.0", ["id"] = $"e-{i}", ["source"] = "/plant/lab", ["type"] = "any.v1", ["time"] = "2026-03-02T09:30:00-05:00", ["data"] = data,
                }));
                return Record.Write(sent, sent.RecordId, "lab", "intake", DateTimeOffset.UnixEpoch, DateTimeOffset.UnixEpoch);
            })];
            var checkpoint = new Checkpoint("plant.example/records", lines.Length, Merkle.Root(lines.Select(l => Merkle.LeafHash(l))));
            _packet.Write("checkpoint.txt", Encoding.UTF8.GetBytes(checkpoint.Sign(_packet.Key)));
            var (exit, said) = Check(lines, _packet.KeyFile());
            Assert.True(exit == Command.Ok, said);
        }, iter: 100, threads: 1);
    }

    [Fact]
    public void A_whole_log_is_proved()
    {
        var (exit, said) = Check(_packet.Log, _packet.KeyFile());

        Assert.True(exit == Command.Ok, said);
        Assert.Contains("Proved: 300 records", said, StringComparison.Ordinal);
        (exit, said) = Check(_packet.Log);
        Assert.Equal(Command.NotProved, exit);
        Assert.Contains("origin not established", said, StringComparison.Ordinal);
        (exit, said) = Check(_packet.Log, _packet.PemFile());
        Assert.Equal(Command.NotProved, exit);
        Assert.Contains("of which log it is the key nobody said", said, StringComparison.Ordinal);
    }

    [Fact]
    public void A_line_recorded_before_one_in_front_of_it_is_named()
    {
        byte[][] lines = [.. _packet.Log.Take(10), _packet.Log[20], .. _packet.Log.Skip(10).Take(5)];
        var checkpoint = new Checkpoint("plant.example/records", lines.Length, Merkle.Root(lines.Select(l => Merkle.LeafHash(l))));
        _packet.Write("checkpoint.txt", Encoding.UTF8.GetBytes(checkpoint.Sign(_packet.Key)));

        Fails("line 12: record", lines);
        Fails("says that it was recorded at 1970-01-01T00:10:00.000000Z, before a line in front of it (1970-01-01T00:20:00.000000Z)", lines);
    }

    [Fact]
    public void A_file_that_is_no_log_is_not_read_to_its_end()
    {
        var (exit, said) = Check(Enumerable.Repeat(Array.Empty<byte>(), 100_000), _packet.KeyFile());
        Assert.Equal(Command.Failed, exit);
        Assert.StartsWith("  WRONG  the export: It has more than 10000 faults and was not read on.", said.Split('\n').First(l => l.Contains("WRONG", StringComparison.Ordinal)), StringComparison.Ordinal);
        Assert.Contains("Failed: 10002 things are wrong.", said, StringComparison.Ordinal);
    }

    [Fact]
    public void A_line_changed_left_out_added_or_moved_gives_another_root()
    {
        var log = _packet.Log;
        var changed = Encoding.UTF8.GetBytes(Encoding.UTF8.GetString(log[40]).Replace("\"coverIn\":\"2\"", "\"coverIn\":\"1\"", StringComparison.Ordinal));

        Fails("was changed, left out, added or moved", [.. log.Take(40), changed, .. log.Skip(41)]);
        Fails("1 are missing", [.. log.Take(40), .. log.Skip(41)]);
        Fails("was changed, left out, added or moved", [.. log.Take(40), log[41], log[40], .. log.Skip(42)]);
        Fails("is already in line 40", [.. log.Take(40), .. log.Skip(39)]);
    }

    [Fact]
    public void Lines_after_the_checkpoint_are_said_to_be_uncovered()
    {
        var (exit, said) = Check([.. _packet.Log, .. _packet.Log.Take(0), "{\"not\":\"a record\"}"u8.ToArray()], _packet.KeyFile());

        Assert.Equal(Command.Failed, exit);
        Assert.Contains("1 lines come after the checkpoint", said, StringComparison.Ordinal);
        Assert.Contains("line 301: The line is not a record", said, StringComparison.Ordinal);
    }

    [Fact]
    public void The_first_leaf_of_a_continued_log_says_which_log_it_continues()
    {
        byte[][] lines = [Encoding.UTF8.GetBytes("{\"continues\":{\"origin\":\"plant.example/records\",\"size\":300}}"), _packet.Log[0]];
        var root = Merkle.Root(lines.Select(l => Merkle.LeafHash(l)));
        _packet.Write("checkpoint.txt", Encoding.UTF8.GetBytes(new Checkpoint("plant.example/records-2", 2, root).Sign(_packet.Key)));

        var (exit, said) = Check(lines, _packet.Key.VerifierKey("plant.example/records-2"));

        Assert.True(exit == Command.Ok, said);
        Assert.Contains("This log continues plant.example/records at 300 records.", said, StringComparison.Ordinal);
        Assert.Contains("Proved: 1 records", said, StringComparison.Ordinal);
    }
}
