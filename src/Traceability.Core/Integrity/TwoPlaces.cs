using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Integrity;

/// <summary>
/// One person at work in two places at overlapping times. A place is the station that sent the fact, and for an inspection the
/// piece inspected. Two facts of one place may overlap: a technician takes two samples at one table.
/// </summary>
internal static class TwoPlaces
{
    /// <summary>Nobody walks from one station or piece to another and begins there sooner. Our own choice.</summary>
    private static readonly TimeSpan s_walk = TimeSpan.FromMinutes(2);

    public static IEnumerable<IntegrityNote> Of(IReadOnlyList<Entered> entries)
    {
        foreach (var by in entries.Where(e => e.Person is not null && e.Type.Role != Roles.BatchOperator).GroupBy(e => e.Person!, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            var ordered = by.OrderBy(e => e.Begins).ThenBy(e => e.Record.Id).ToList();
            var told = new HashSet<(string, string)>();
            for (var i = 0; i < ordered.Count; i++)
            {
                var one = ordered[i];
                for (var j = i + 1; j < ordered.Count && ordered[j].Begins - one.Ends < s_walk; j++)
                {
                    var other = ordered[j];
                    if (Together(one, other) || !told.Add((Place(one), Place(other)))) continue;
                    yield return new(IntegrityKind.TwoPlaces,
                        FormattableString.Invariant($"{by.Key} was at {Place(one)} until {one.Ends:yyyy-MM-dd HH:mm zzz} ({one.Type.Name}) and at {Place(other)} from {other.Begins:HH:mm} ({other.Type.Name})."),
                        by.Key, other.Ends, [.. new[] { one, other }.OrderBy(e => e.Record.Position).Select(e => e.Record.Id)]);
                }
            }
        }
    }

    // At one station only an inspection binds to a piece. Two stations' clocks differ: what overlaps only within their uncertainty overlaps for nobody.
    private static bool Together(Entered one, Entered other) => one.Record.Sent.Source == other.Record.Sent.Source
        ? Piece(one) is not { } piece || Piece(other) is not { } second || piece == second
        : other.Begins - one.Ends >= s_walk - one.Record.OccurredAt.Uncertainty - other.Record.OccurredAt.Uncertainty;

    private static string Place(Entered entry) => Piece(entry) is { } piece ? $"{piece.Id} ({entry.Record.Sent.Source})" : entry.Record.Sent.Source;

    private static Subject? Piece(Entered entry) => entry.Fact is CloseUpInspected or PrePourInspected or AsCastInspected ? entry.Fact.About : null;
}
