namespace Traceability.Core.Integrity;

/// <summary>Many facts of one person entered in one go, long after they happened: a notebook copied, or a day made up.</summary>
internal static class LateBlocks
{
    // Our own choices: a shift and a half is late, five in half an hour is one go.
    private static readonly TimeSpan s_late = TimeSpan.FromHours(12), s_oneGo = TimeSpan.FromMinutes(30);
    private const int Least = 5;

    public static IEnumerable<IntegrityNote> Of(IReadOnlyList<Entered> entries)
    {
        foreach (var by in entries.Where(e => e.Person is not null && e.At - e.Begins >= s_late).GroupBy(e => e.Person!, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            var block = new List<Entered>();
            foreach (var entry in by.OrderBy(e => e.At).ThenBy(e => e.Record.Position))
            {
                if (block.Count > 0 && entry.At - block[^1].At > s_oneGo)
                {
                    if (block.Count >= Least) yield return Note(by.Key, block);
                    block.Clear();
                }

                block.Add(entry);
            }

            if (block.Count >= Least) yield return Note(by.Key, block);
        }
    }

    private static IntegrityNote Note(string person, List<Entered> block)
    {
        var minutes = Math.Ceiling((block[^1].At - block[0].At).TotalMinutes);
        var hours = block.Max(e => e.At - e.Begins).TotalHours;
        return new(IntegrityKind.LateBlock, FormattableString.Invariant($"{person} entered {block.Count} facts within {(minutes <= 1 ? "a minute" : FormattableString.Invariant($"{minutes:0} minutes"))}, up to {hours:0} hours after they happened."),
            person, block[^1].At, [.. block.OrderBy(e => e.Record.Position).Select(e => e.Record.Id)]);
    }
}
