using System.Globalization;

namespace Traceability.Verifier;

/// <summary>The export of a whole log against a checkpoint: the root is derived from the lines alone.</summary>
internal static class LogCheck
{
    private const string File = "the export";

    /// <summary>Faults after which the lines are not read on: it is not what it should be.</summary>
    private const int MostFaults = 10_000;

    internal static Report Run(Stream export, Note checkpoint, PublicKey? key, IReadOnlyList<Witness.Cosigner> witnesses, string successions)
    {
        var report = new Report { Origin = checkpoint.Origin, Size = checkpoint.Size, Root = checkpoint.Hex };
        try
        {
            Run(export, checkpoint, key is null ? null : Succession.Follow(key, successions, checkpoint.Origin, report.Remarks), report);
            foreach (var witness in witnesses)
            {
                if (checkpoint.CosignedBy(witness) is { } at)
                {
                    report.Checked.Add(string.Create(CultureInfo.InvariantCulture, $"cosigned by witness {witness.Name} at {DateTimeOffset.FromUnixTimeSeconds(at):yyyy-MM-dd'T'HH:mm:ss'Z'}"));
                }
                else
                {
                    report.NotProvedBecause.Add($"The checkpoint carries no cosignature of witness {witness.Name}: take the one that the witness shows.");
                }
            }
        }
        catch (PacketFormException e)
        {
            report.Stopped(File, e.Message);
        }

        return report;
    }

    private static void Run(Stream export, Note checkpoint, PublicKey? key, Report report)
    {
        if (key is null)
        {
            report.NotProvedBecause.Add("No signature was checked, because no key from elsewhere was given: anybody can make such files. Ask the plant for its key on another way and give it with --key.");
        }
        else
        {
            report.Check("checkpoint: signed by the key you gave", () =>
            {
                if (checkpoint.NotSignedBecause(key) is { } why)
                {
                    report.Wrong("checkpoint", why);
                }
            });
            if (key.Name is null)
            {
                report.NotProvedBecause.Add($"The signature is of the key you gave, but of which log it is the key nobody said; the checkpoint says {checkpoint.Origin}. Give the key as the line name+hash+base64, or the name of the log with --origin.");
            }
        }

        var root = new RunningRoot();
        var devices = new DeviceSignatures();
        var ids = new Dictionary<string, int>(StringComparer.Ordinal);
        byte[]? atSize = checkpoint.Size == 0 ? root.Root() : null;
        report.Check("every line: its bytes are in the form that is hashed, its id that of its event, no id twice, recorded no earlier than the line before", () =>
        {
            var number = 0;
            var last = "";
            foreach (var bytes in RecordLine.Lines(export))
            {
                var line = RecordLine.Read(++number, bytes);
                root.Add(line.Leaf);
                devices.Add(line);
                if (root.Count == checkpoint.Size)
                {
                    atSize = root.Root();
                }

                foreach (var fault in line.Faults)
                {
                    report.Wrong(File, fault, number, line.Id);
                }

                if (line.Continues is not null)
                {
                    report.Remarks.Add($"This log continues {line.Continues}.");
                }
                else
                {
                    report.Records++;
                }

                if (line.RecordedAt is { } at)
                {
                    if (string.CompareOrdinal(at, last) < 0)
                    {
                        report.Wrong(File, $"{line.Name} says that it was recorded at {at}, before a line in front of it ({last}).", number, line.Id);
                    }
                    else
                    {
                        last = at;
                    }
                }

                if (line.Id is not null && !ids.TryAdd(line.Id, number))
                {
                    report.Wrong(File, $"{line.Name} is already in line {ids[line.Id]}.", number, line.Id);
                }

                if (report.Wrongs > MostFaults)
                {
                    throw new PacketFormException($"It has more than {MostFaults} faults and was not read on.");
                }
            }
        });

        devices.Check(File, report);
        report.Check($"root: derived anew over {checkpoint.Size} lines, as the checkpoint says", () =>
        {
            if (atSize is null)
            {
                report.Wrong(File, $"It has {root.Count} lines, the checkpoint is of {checkpoint.Size}: {checkpoint.Size - root.Count} are missing.");
            }
            else if (!atSize.AsSpan().SequenceEqual(checkpoint.Root))
            {
                report.Wrong(File, $"Its first {checkpoint.Size} lines lead to root {Convert.ToHexStringLower(atSize)}, the checkpoint says {report.Root}: a line was changed, left out, added or moved.");
            }
        });
        if (root.Count > checkpoint.Size)
        {
            report.Remarks.Add($"{root.Count - checkpoint.Size} lines come after the checkpoint and are not covered by it.");
        }
    }
}
