namespace Traceability.Verifier;

/// <summary>The export of a whole log against a checkpoint: the root is derived from the lines alone.</summary>
internal static class LogCheck
{
    private const string File = "the export";

    internal static Report Run(Stream export, Note checkpoint, PublicKey? key)
    {
        var report = new Report
        {
            Origin = checkpoint.Origin,
            Size = checkpoint.Size,
            Root = Convert.ToHexStringLower(checkpoint.Root),
        };
        if (key is not null)
        {
            report.Check("checkpoint: signed by the key you gave", () =>
            {
                if (checkpoint.NotSignedBecause(key) is { } why)
                {
                    report.Wrong("checkpoint", why);
                }
            });
            report.OriginEstablished = report.Problems.Count == 0;
        }

        var root = new RunningRoot();
        var ids = new Dictionary<string, int>(StringComparer.Ordinal);
        byte[]? atSize = checkpoint.Size == 0 ? root.Root() : null;
        report.Check("every line: its bytes are in the form that is hashed, its id that of its event, no id twice", () =>
        {
            var number = 0;
            foreach (var bytes in RecordLine.Lines(export))
            {
                var line = RecordLine.Read(++number, bytes);
                root.Add(line.Leaf);
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

                if (line.Id is not null && !ids.TryAdd(line.Id, number))
                {
                    report.Wrong(File, $"{line.Name} is already in line {ids[line.Id]}.", number, line.Id);
                }
            }
        });

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

        return report;
    }
}
