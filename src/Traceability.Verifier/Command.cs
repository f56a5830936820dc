using System.Text;
using System.Text.Json;
using Traceability.Verifier.Witness;

namespace Traceability.Verifier;

/// <summary>The command line: reads the arguments, runs the checks, prints the result.</summary>
public static class Command
{
    /// <summary>Proved: a key from elsewhere, every signature, and everything that was checked holds.</summary>
    public const int Ok = 0;

    /// <summary>Something is wrong with what was checked.</summary>
    public const int Failed = 1;

    /// <summary>Called the wrong way, or a file given as an argument cannot be read.</summary>
    public const int Usage = 2;

    /// <summary>Nothing is wrong, and nothing is proved: no key from elsewhere, or it is not said of which log.</summary>
    public const int NotProved = 3;

    /// <summary>A draft: it was not issued.</summary>
    public const int Draft = 4;

    private const string Help =
        """
        Checks a record packet, or the export of a whole log, without network and without the plant's software.

          traceability-verify PACKET [--key KEY [--origin NAME]] [--witness KEY ...] [--checkpoint FILE [--consistency FILE]]
                              [--of PACKET] [--succession FILE] [--extract FOLDER] [--json]
          traceability-verify --log FILE --checkpoint FILE [--key KEY [--origin NAME]] [--witness KEY ...]
                              [--succession FILE] [--json]
          traceability-verify witness --help

          PACKET              a packet: zip file or folder
          --key KEY           the plant's public key, obtained on another way than the packet: the line name+hash+base64, a
                              file that holds it, or a PEM file
          --origin NAME       the log that the key is of, where it is given as a PEM file, which does not say it
          --witness KEY       a witness that must have cosigned the log, as the line its 'witness show' prints, or a file that
                              holds it; may be given again
          --succession FILE   where your key is that of an earlier log: what it signed for its successor, as the plant's
                              /log/succession gives it. A packet carries its own
          --checkpoint FILE   a checkpoint obtained on another way; with --log the one the export must lead to
          --consistency FILE  the answer of the log's consistency request between that checkpoint and the packet's
          --of PACKET         the packet that PACKET should be a supplement to: it is held against it
          --extract FOLDER    writes the files that were checked, and nothing else, where nothing is wrong with them
          --log FILE          records.jsonl of a whole log, in leaf order: the root is derived anew
          --json              the result as JSON, with everything below as members

        It says which packet it is, of which contract and units, issued when and by whom, and what is pending: see that
        this is the packet you mean.

        Exit code and result:
          0  proved            by a key from elsewhere and every signature
          1  failed            something is wrong, each thing named
          2                    not called as it should be, or a file named cannot be read
          3  consistent        nothing is wrong and nothing is proved: no key given, or not said of which log it is, or the
                               checkpoint you hold could not be compared, or a witness did not cosign
          4  draft             for the plant's own review; not issued, signed by nobody
        """;

    /// <summary>Runs the program.</summary>
    /// <returns>The exit code.</returns>
    public static int Run(IReadOnlyList<string> args, TextWriter output, TextWriter error)
    {
        string? packet = null, key = null, checkpoint = null, consistency = null, log = null, of = null, origin = null, extract = null, succession = null;
        var witnesses = new List<string>();
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
                    case "--origin": origin = args[++i]; break;
                    case "--extract": extract = args[++i]; break;
                    case "--succession": succession = args[++i]; break;
                    case "--witness": witnesses.Add(args[++i]); break;
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

        if (log is not null && (of is not null || extract is not null || consistency is not null))
        {
            return Wrong(error, "--of, --extract and --consistency go with a packet, not with --log.");
        }

        if (origin is not null && key is null)
        {
            return Wrong(error, "--origin says of which log --key is; give the key too.");
        }

        if (succession is not null && key is null)
        {
            return Wrong(error, "--succession leads from --key to its successor; give the key too.");
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
            var publicKey = key is null ? null : PublicKey.Read(key, origin);
            var kept = checkpoint is null ? null : Note.Read(Bytes(checkpoint));
            if (checkpoint is not null && kept is null)
            {
                return Wrong(error, $"{checkpoint} is not a checkpoint.");
            }

            var cosigners = witnesses.ConvertAll(Cosigner.Read);
            var successions = succession is null ? "" : Encoding.UTF8.GetString(Bytes(succession));
            if (log is not null)
            {
                using var lines = File.OpenRead(log);
                report = LogCheck.Run(lines, kept!, publicKey, cosigners, successions);
            }
            else
            {
                report = Check(packet!, of, new FromElsewhere(publicKey, kept, consistency is null ? null : Bytes(consistency), null, cosigners, successions), extract);
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or FormatException or ArgumentException or NotSupportedException)
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

        return report.ExitCode;
    }

    private static Report Check(string packet, string? of, FromElsewhere held, string? extract)
    {
        try
        {
            using var files = PacketFiles.Open(packet);
            using var other = of is null ? null : PacketFiles.Open(of);
            var report = PacketCheck.Run(files, held with { Of = other });
            if (extract is not null && report.Wrongs == 0)
            {
                files.Extract(extract);
                report.Extracted = Path.GetFullPath(extract);
                report.Remarks.Add($"The files that were checked are in {report.Extracted}.");
            }

            return report;
        }
        catch (PacketFormException e)
        {
            var report = new Report();
            report.Wrong("the packet", e.Message);
            return report;
        }
    }

    /// <summary>A small file that the caller names.</summary>
    private static byte[] Bytes(string path) =>
        new FileInfo(path) is { Exists: true, Length: > 1 << 20 } ? throw new IOException($"{path} is too large for what it should be.") : File.ReadAllBytes(path);

    private static int Wrong(TextWriter error, string why)
    {
        error.WriteLine(Report.Plain(why));
        error.WriteLine("traceability-verify --help tells how to call it.");
        return Usage;
    }
}
