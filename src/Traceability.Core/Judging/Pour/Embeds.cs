using Traceability.Core.Events;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// Embeds, sleeves and blockouts are there as drawn, in number and place. Needs: drawing, pre-pour inspection. A mismatch is
/// a question, not a failure: what a sleeve crosses, or an insert moved on purpose, is for an engineer to say.
/// </summary>
public sealed class Embeds : IRequirement
{
    public string Id => "pour.embeds";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Embeds and blockouts as drawn";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<PrePourInspected>() is not { } inspection)
        {
            yield return Evidence.NoPrePour(this, matter);
            yield break;
        }

        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Evidence.PrePour) with { Used = [inspection.Id] };
            yield break;
        }

        var drawn = drawing.Fact.Embeds.GroupBy(e => e.Item, StringComparer.Ordinal).Select(g => (Item: g.Key, Count: g.Sum(e => (long)e.Count))).ToList();
        if (drawn.Count == 0)
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, "The drawing shows no embeds or blockouts.", Evidence.Of(drawing)) with { Used = [drawing.Id] };

        foreach (var (item, count) in drawn)
        {
            var found = inspection.Fact.Embeds.Where(e => e.Item == item).ToList();
            var seen = found.Sum(e => (long)e.Count);
            var (verdict, reason) = found.Count switch
            {
                0 => (Verdict.Missing, $"{item}: the drawing shows {count}, none was looked for."),
                _ when seen != count => (Verdict.CannotTell, $"{item}: {seen} found, {count} drawn; a question for the engineer."),
                _ when found.Exists(e => !e.PlacedAsDrawn) => (Verdict.CannotTell, $"{item}: not where the drawing shows it; a question for the engineer."),
                _ => (Verdict.Met, $"{item}: {seen}, placed as drawn."),
            };
            yield return Matter.Finding(this, $"{unit} {item}", verdict, reason, Evidence.Of(drawing)) with
            {
                Limit = $"{count} placed as drawn",
                LimitConfirmed = true,
                Observed = found.Count == 0 ? "" : $"{seen}, {(found.TrueForAll(e => e.PlacedAsDrawn) ? "placed as drawn" : "not placed as drawn")}",
                Clear = verdict == Verdict.Met ? "" : "The crew sets it right and the inspector looks again, or the quality engineer asks the engineer of record.",
                Used = [inspection.Id, drawing.Id],
            };
        }

        foreach (var extra in inspection.Fact.Embeds.Where(e => drawn.TrueForAll(d => d.Item != e.Item)))
        {
            yield return Matter.Finding(this, $"{unit} {extra.Item}", Verdict.CannotTell, $"{extra.Item}: found in the form and not on the drawing; a question for the engineer.", Evidence.Of(drawing)) with
            {
                Observed = $"{extra.Count}",
                Clear = "The inspector corrects the name, the crew takes it out, or the quality engineer asks the engineer of record.",
                Used = [inspection.Id, drawing.Id],
            };
        }
    }
}
