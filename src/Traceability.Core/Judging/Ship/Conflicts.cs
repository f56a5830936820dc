using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// No record that bears on the unit contradicts another or cannot be read. Needs: every record of the unit. A contradiction
/// is settled by a person, with a correction or a withdrawal, never by leaving one out. Until then no step may be taken.
/// </summary>
public sealed class Conflicts : IRequirement
{
    internal const string Name = "ship.records-agree";

    private static readonly Citation Source = new("Contradicting records are settled before shipping", SourceMark.CommonPractice);

    public string Id => Name;
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Records agree with each other";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        var open = matter.File.SetAside.Where(s => s.Kind is SetAsideKind.Conflict or SetAsideKind.Unreadable or SetAsideKind.Waiting).ToList();
        if (open.Count == 0)
            yield return Matter.Finding(this, unit, Verdict.Met, "No record of this unit contradicts another.", Source);

        // Two contents under one id are two records that are cited by one id.
        foreach (var group in open.GroupBy(Key).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            var named = group.OrderBy(s => s.Evidence).ThenBy(s => s.Record.Sent.ContentHash, StringComparer.Ordinal)
                .Select(s => $"{s.Record.Type} {s.Evidence:D} (content {s.Record.Sent.ContentHash[..8]})");
            var waiting = group.All(s => s.Kind == SetAsideKind.Waiting);
            yield return Matter.Finding(this, $"{unit} {group.Key}", waiting ? Verdict.Missing : Verdict.CannotTell,
                $"{string.Join(" and ", named)}: {string.Join("; ", group.Select(s => s.Reason).Distinct().Order(StringComparer.Ordinal))}.", Source) with
            {
                Clear = waiting ? "The station sends the record that is corrected, or the quality engineer records it again."
                    : group.All(s => s.Kind == SetAsideKind.Unreadable) ? "The quality engineer has the record sent again in a form this version reads."
                    : "The quality engineer finds out which is right and withdraws the other; of two contents under one id both, and the right one is sent again under an id of its own.",
                SetAside = [.. group.Select(s => new UnusedEvidence(s.Evidence, $"content {s.Record.Sent.ContentHash[..8]}: {s.Reason}"))],
            };
        }
    }

    // Contradicting records stand together: under their business key, or with the record that a change names.
    private static string Key(SetAside aside) =>
        (aside.Record.Fact is RecordCorrected c ? c.Replacement : aside.Record.Fact)?.BusinessKey ?? Records.Subject.Record(aside.Family).Key;
}
