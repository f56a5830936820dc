using System.Text.Json;

namespace Traceability.Verifier;

/// <summary>The command line: reads the arguments, runs the checks, prints the result.</summary>
public static class Command
{
    /// <summary>Everything that was checked holds.</summary>
    public const int Ok = 0;

    /// <summary>Something is wrong with what was checked.</summary>
    public const int Failed = 1;

    /// <summary>Called the wrong way, or a file given as an argument cannot be read.</summary>
    public const int Usage = 2;

    private const string Help =
        """
        Checks a record packet, or the export of a whole log, without network and without the plant's software.

          traceability-verify PACKET [--key KEY] [--checkpoint FILE] [--consistency FILE] [--of PACKET] [--json]
          traceability-verify --log FILE --checkpoint FILE [--key KEY] [--json]

          PACKET              a packet: zip file or folder
          --key KEY           the plant's public key, obtained on another way than the packet: a PEM file, a file that
                              holds the one-line form name+hash+base64, or that line itself
          --checkpoint FILE   a checkpoint obtained on another way; with --log the one the export must lead to
          --consistency FILE  the answer of the log's consistency request between that checkpoint and the packet's
          --of PACKET         the packet that PACKET should be a supplement to: it is held against it
          --log FILE          records.jsonl of a whole log, in leaf order: the root is derived anew
          --json              the result as JSON

        Exit code: 0 nothing wrong; 1 something wrong, each thing named; 2 not called as it should be.
        Without a key the answer is at best "consistent, origin not established".
        """;

    /// <summary>Runs the program.</summary>
    /// <returns>The exit code.</returns>
    public static int Run(IReadOnlyList<string> args, TextWriter output, TextWriter error)
    {
        string? packet = null, key = null, checkpoint = null, consistency = null, log = null, of = null;
        var json = false;
        for (var i = 0; i < args.Count; i++)
        {
            if (args[i] is "--help" or "-h")
            {
                output.WriteLine(Help);
                return Ok;
            }

            if (args[i] == "--json")
            {
                json = true;
            }
            else if (args[i].StartsWith("--", StringComparison.Ordinal))
            {
                if (i + 1 == args.Count)
                {
                    return Wrong(error, $"{args[i]} wants a value.");
                }

                switch (args[i])
                {
                    case "--key": key = args[++i]; break;
                    case "--checkpoint": checkpoint = args[++i]; break;
                    case "--consistency": consistency = args[++i]; break;
                    case "--log": log = args[++i]; break;
                    case "--of": of = args[++i]; break;
                    default: return Wrong(error, $"{args[i]} is not known.");
                }
            }
            else if (packet is null)
            {
                packet = args[i];
            }
            else
            {
                return Wrong(error, $"One packet at a time: {args[i]} is one too many.");
            }
        }

        if (packet is null == log is null)
        {
            return Wrong(error, "Give either a packet or --log.");
        }

        if (log is not null && of is not null)
        {
            return Wrong(error, "--of goes with a packet, not with --log.");
        }

        if (log is not null && checkpoint is null)
        {
            return Wrong(error, "--log wants --checkpoint.");
        }

        if (consistency is not null && checkpoint is null)
        {
            return Wrong(error, "--consistency wants --checkpoint.");
        }

        Report report;
        try
        {
            var publicKey = key is null ? null : PublicKey.Read(key);
            var kept = checkpoint is null ? null : Note.Read(File.ReadAllText(checkpoint));
            if (checkpoint is not null && kept is null)
            {
                return Wrong(error, $"{checkpoint} is not a checkpoint.");
            }

            if (log is not null)
            {
                using var lines = File.OpenRead(log);
                report = LogCheck.Run(lines, kept!, publicKey);
            }
            else
            {
                report = PacketCheck.Run(
                    PacketFiles.Open(packet!), publicKey, kept, consistency is null ? null : File.ReadAllBytes(consistency),
                    of is null ? null : PacketFiles.Open(of));
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or InvalidDataException or FormatException)
        {
            return Wrong(error, e.Message);
        }

        if (json)
        {
            output.WriteLine(JsonSerializer.Serialize(report, Report.Json));
        }
        else
        {
            report.Print(output);
        }

        return report.Problems.Count == 0 ? Ok : Failed;
    }

    private static int Wrong(TextWriter error, string why)
    {
        error.WriteLine(why);
        error.WriteLine("traceability-verify --help tells how to call it.");
        return Usage;
    }
}
