using System.Text;
using Microsoft.Extensions.Time.Testing;
using Traceability.Service.Log;
using Traceability.Verifier;
using Traceability.Verifier.Witness;

namespace Traceability.Service.Tests.Verifying;

/// <summary>What a verifier demands of witnesses (C2SP tlog-cosignature 1.0, published), and how a key of an earlier log leads to a packet of a later one.</summary>
public sealed class WitnessedPacketTests : IDisposable
{
    private static readonly FakeTimeProvider s_clock = new(new DateTimeOffset(2026, 3, 20, 15, 0, 30, TimeSpan.Zero));

    private readonly SamplePacket _packet = new();
    private readonly string _folder = Directory.CreateTempSubdirectory("witnessed-").FullName;

    public void Dispose()
    {
        _packet.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    private (int Exit, string Said) Check(params string[] more)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        return (Command.Run([_packet.Path, .. more], output, error), output.ToString() + error);
    }

    /// <summary>Makes a witness that saw a checkpoint; answers its key line and its signature line.</summary>
    private (string KeyLine, string Line) Witnessed(string name, string note)
    {
        var dir = Path.Combine(_folder, name);
        string Say(params string[] words)
        {
            using var said = new StringWriter();
            Assert.True(WitnessCommand.Run(words, said, said, s_clock, CancellationToken.None) == 0, said.ToString());
            return said.ToString();
        }

        var key = Say("new", dir, "--name", name + ".example/witness").Trim();
        Say("watch", dir, _packet.Key.VerifierKey("plant.example/records"));
        var request = Path.Combine(_folder, name + ".request");
        File.WriteAllText(request, "old 0\n\n" + note);
        return (key, Say("cosign", dir, request));
    }

    private string IssueCheckpoint => Encoding.UTF8.GetString(_packet.Read("issue-checkpoint.txt"));

    private void Carry(string line)
    {
        _packet.Write("issue-checkpoint.txt", Encoding.UTF8.GetBytes(IssueCheckpoint + line));
        _packet.Sum();
    }

    [Fact]
    public void A_packet_that_two_witnesses_saw_is_proved_with_both()
    {
        var note = IssueCheckpoint;
        var (north, northLine) = Witnessed("north", note);
        var (south, southLine) = Witnessed("south", note);
        Carry(northLine + southLine);

        var (exit, said) = Check("--key", _packet.KeyFile(), "--witness", north, "--witness", south);

        Assert.True(exit == Command.Ok, said);
        Assert.Contains("cosigned by witness north.example/witness at 2026-03-20T15:00:30Z: it saw this log grow to 303 records", said, StringComparison.Ordinal);
        Assert.Contains("cosigned by witness south.example/witness", said, StringComparison.Ordinal);
    }

    [Fact]
    public void A_packet_without_the_cosignature_that_is_demanded_proves_nothing()
    {
        var note = IssueCheckpoint;
        var (north, line) = Witnessed("north", note);
        var (south, _) = Witnessed("south", note);
        Assert.Equal(Command.NotProved, Check("--key", _packet.KeyFile(), "--witness", north).Exit);

        Carry(line);
        var (exit, said) = Check("--key", _packet.KeyFile(), "--witness", north, "--witness", south);
        Assert.Equal(Command.NotProved, exit);
        Assert.Contains("no cosignature of witness south.example/witness", said, StringComparison.Ordinal);
        Assert.DoesNotContain("no cosignature of witness north.example/witness", said, StringComparison.Ordinal);
    }

    [Fact]
    public void A_cosignature_of_another_checkpoint_or_by_another_key_under_the_name_counts_for_nothing()
    {
        // Of the packet's first checkpoint, at 300 records: it does not reach the record of the issue.
        var (north, line) = Witnessed("north", Encoding.UTF8.GetString(_packet.Read("checkpoint.txt")));
        var before = _packet.Read("issue-checkpoint.txt");
        Carry(line);
        Assert.Equal(Command.NotProved, Check("--key", _packet.KeyFile(), "--witness", north).Exit);

        _packet.Write("issue-checkpoint.txt", before);
        var (_, foreign) = Witnessed("east", IssueCheckpoint);
        Carry(foreign.Replace("east.example", "north.example", StringComparison.Ordinal));
        Assert.Equal(Command.NotProved, Check("--key", _packet.KeyFile(), "--witness", north).Exit);
    }

    [Fact]
    public void A_witness_that_is_none_is_said_so()
    {
        var (exit, said) = Check("--key", _packet.KeyFile(), "--witness", "north.example/witness");
        Assert.Equal(Command.Usage, exit);
        Assert.Contains("is not the key line of a witness", said, StringComparison.Ordinal);
    }

    [Fact]
    public void The_key_of_an_earlier_log_proves_a_packet_of_its_successors()
    {
        var (first, second) = (LogKey.Create(), LogKey.Create());
        var statements = Succession.Sign(Ended("plant.example/1"), "plant.example/2", first, second)
            + Succession.Sign(Ended("plant.example/2"), "plant.example/records", second, _packet.Key);
        var key = first.VerifierKey("plant.example/1");
        Assert.Equal(Command.Failed, Check("--key", key).Exit);

        var file = _packet.Beside("succession", Encoding.UTF8.GetBytes(statements));
        var (exit, said) = Check("--key", key, "--succession", file);
        Assert.True(exit == Command.Ok, said);
        Assert.Contains("The key of plant.example/1 says by its signature that this log ended at 6 records and goes on as plant.example/2", Flat(said), StringComparison.Ordinal);

        _packet.Write("succession.txt", Encoding.UTF8.GetBytes(statements));
        _packet.Sum();
        Assert.Equal(Command.Ok, Check("--key", key).Exit);
        Assert.Equal(Command.Ok, Check("--key", _packet.KeyFile()).Exit);
    }

    [Fact]
    public void A_succession_that_was_changed_or_that_another_key_signed_leads_nowhere()
    {
        var (old, stranger) = (LogKey.Create(), LogKey.Create());
        var good = Succession.Sign(Ended("plant.example/1"), "plant.example/records", old, _packet.Key);
        var forged = Succession.Sign(Ended("plant.example/1"), "plant.example/records", stranger, _packet.Key);
        var key = old.VerifierKey("plant.example/1");
        foreach (var statements in (string[])[forged, good.Replace("\n6\n", "\n7\n", StringComparison.Ordinal), good[..^30], "", "succession/v1\n", good.Replace("plant.example/1", "plant.example/0", StringComparison.Ordinal)])
        {
            var (exit, said) = Check("--key", key, "--succession", _packet.Beside("succession", Encoding.UTF8.GetBytes(statements)));
            Assert.True(exit == Command.Failed, said);
        }

        // The stranger signs for a key of its own: a packet of the plant's real key is not the stranger's.
        var other = Succession.Sign(Ended("plant.example/1"), "plant.example/records", old, stranger);
        Assert.Equal(Command.Failed, Check("--key", key, "--succession", _packet.Beside("succession", Encoding.UTF8.GetBytes(other))).Exit);
    }

    [Theory]
    [InlineData(2, "06")]
    [InlineData(2, "-6")]
    [InlineData(3, "")]
    [InlineData(3, "AAAA")]
    [InlineData(3, "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAB=")]
    public void A_succession_that_does_not_say_where_the_log_ended_leads_nowhere_though_its_key_signed_it(int line, string said)
    {
        var old = LogKey.Create();
        var good = Succession.Sign(Ended("plant.example/1"), "plant.example/records", old, _packet.Key);
        var lines = good.Split('\n')[..6];
        lines[line] = said;
        var statement = SignedNote.Sign(string.Join('\n', lines) + "\n", "plant.example/1", old);

        Assert.Equal(Command.Failed, Check("--key", old.VerifierKey("plant.example/1"), "--succession", _packet.Beside("succession", Encoding.UTF8.GetBytes(statement))).Exit);
    }

    [Fact]
    public void A_succession_in_a_packet_opens_no_file_that_its_key_line_names()
    {
        var old = LogKey.Create();
        var good = Succession.Sign(Ended("plant.example/1"), "plant.example/records", old, _packet.Key);
        var body = good[..(good.IndexOf("\n\n", StringComparison.Ordinal) + 1)].Replace(_packet.Key.VerifierKey("plant.example/records"), _packet.KeyFile(), StringComparison.Ordinal);
        _packet.Write("succession.txt", Encoding.UTF8.GetBytes(SignedNote.Sign(body, "plant.example/1", old)));
        _packet.Sum();
        Assert.Equal(Command.Failed, Check("--key", old.VerifierKey("plant.example/1")).Exit);

        // A file without an end would never be read through.
        _packet.Write("succession.txt", Encoding.UTF8.GetBytes(SignedNote.Sign(body.Replace(_packet.KeyFile(), "/dev/zero", StringComparison.Ordinal), "plant.example/1", old)));
        _packet.Sum();
        Assert.Equal(Command.Failed, Check("--key", old.VerifierKey("plant.example/1")).Exit);
    }

    [Fact]
    public void Of_thousands_of_signatures_under_a_succession_a_hundred_are_looked_at()
    {
        var old = LogKey.Create();
        var good = Succession.Sign(Ended("plant.example/1"), "plant.example/records", old, _packet.Key);
        var body = good[..(good.IndexOf("\n\n", StringComparison.Ordinal) + 1)];
        var wrong = $"\u2014 plant.example/1 {Convert.ToBase64String([.. SignedNote.KeyHash("plant.example/1", old.PublicKey), .. new byte[64]])}\n";
        int Exit(int before) => Check("--key", old.VerifierKey("plant.example/1"), "--succession", _packet.Beside("succession", Encoding.UTF8.GetBytes(body + "\n" + string.Concat(Enumerable.Repeat(wrong, before)) + good[(body.Length + 1)..]))).Exit;

        Assert.Equal((Command.Ok, Command.Failed), (Exit(99), Exit(100)));
    }

    private static EndedLog Ended(string origin) => new(origin, 6, Convert.ToHexStringLower(new byte[32]), "");

    private static string Flat(string said) => said.ReplaceLineEndings(" ");
}
