using System.Text;
using Traceability.Service.Log;
using Traceability.Verifier;

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

    [Fact]
    public void A_whole_log_is_proved()
    {
        var (exit, said) = Check(_packet.Log, _packet.KeyFile());

        Assert.True(exit == Command.Ok, said);
        Assert.Contains("Proved: 300 records", said, StringComparison.Ordinal);
        Assert.Contains("origin not established", Check(_packet.Log).Said, StringComparison.Ordinal);
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

        var (exit, said) = Check(lines, _packet.KeyFile());

        Assert.True(exit == Command.Ok, said);
        Assert.Contains("This log continues plant.example/records at 300 records.", said, StringComparison.Ordinal);
        Assert.Contains("Proved: 1 records", said, StringComparison.Ordinal);
    }
}
