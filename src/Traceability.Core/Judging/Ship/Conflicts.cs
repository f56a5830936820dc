using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// No record that bears on the unit contradicts another or cannot be read. Needs: every record of the unit. A contradiction
/// is settled by a person, with a correction or a withdrawal, never by leaving one out.
/// </summary>
public sealed class Conflicts : IRequirement
{
    private static readonly Citation Source = new("Contradicting records are settled before shipping", SourceMark.CommonPractice);

    public string Id => "ship.records-agree";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Records agree with each other";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        var open = matter.File.SetAside.Where(s => s.Kind is SetAsideKind.Conflict or SetAsideKind.Unreadable).ToList();
        if (open.Count == 0)
            yield return Matter.Finding(this, unit, Verdict.Met, "No record of this unit contradicts another.", Source);

        var byId = open.ToDictionary(s => s.Record.Id);
        foreach (var group in open.GroupBy(s => Key(s, byId)).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            var records = group.Select(s => s.Record).OrderBy(r => r.Id).ToList();
            var unreadable = group.All(s => s.Kind == SetAsideKind.Unreadable);
            yield return Matter.Finding(this, $"{unit} {group.Key}", Verdict.CannotTell,
                $"{string.Join(" and ", records.Select(r => $"{r.Type} {r.Id:D}"))}: {string.Join("; ", group.Select(s => s.Reason).Distinct().Order(StringComparer.Ordinal))}.", Source) with
            {
                Clear = unreadable ? "The quality engineer has the record sent again in a form this version reads." : "The quality engineer finds out which is right and corrects or withdraws the other.",
                SetAside = [.. group.Select(s => new UnusedEvidence(s.Record.Id, s.Reason))],
            };
        }
    }

    // Contradicting records stand together: under their business key, or with the record that a change names.
    private static string Key(SetAside aside, Dictionary<Guid, SetAside> byId) => aside.Record.Fact switch
    {
        RecordCorrected c => byId.TryGetValue(c.Record, out var original) ? Key(original, byId) : c.About.Key,
        RecordWithdrawn w => byId.TryGetValue(w.Record, out var original) ? Key(original, byId) : w.About.Key,
        { BusinessKey: { } key } => key,
        _ => Records.Subject.Record(aside.Record.Id).Key,
    };
}
