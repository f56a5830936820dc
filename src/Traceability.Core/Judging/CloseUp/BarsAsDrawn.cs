using Traceability.Core.Events;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// Bars counted in the form are the drawing's: every bar mark with its size and count, and none that the drawing does not
/// show. Needs: drawing, close-up inspection. The drawing itself is the limit.
/// </summary>
public sealed class BarsAsDrawn : IRequirement
{
    public string Id => "close-up.bars-as-drawn";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Bars as on the drawing";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<CloseUpInspected>() is not { } inspection)
        {
            yield return Evidence.NoCloseUp(this, matter);
            yield break;
        }

        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Evidence.CloseUp) with { Used = [inspection.Id] };
            yield break;
        }

        var drawn = drawing.Fact.Bars.GroupBy(b => b.BarMark, StringComparer.Ordinal).ToList();
        foreach (var mark in drawn)
        {
            // One bar mark can stand on two faces, on the drawing and in the count.
            var wanted = mark.Sum(b => (long)b.Count);
            var found = inspection.Fact.Bars.Where(b => b.BarMark == mark.Key).ToList();
            var count = found.Sum(b => (long)b.Count);
            var sizes = mark.Select(b => b.Size).ToHashSet(StringComparer.Ordinal);
            var other = found.FirstOrDefault(b => !sizes.Contains(b.Size));
            var (verdict, reason) = (found.Count, other) switch
            {
                (0, _) => (Verdict.Missing, $"Bar mark {mark.Key} was not counted."),
                (_, { } o) => (Verdict.NotMet, $"Bar mark {mark.Key} is {string.Join(" and ", sizes)} on the drawing; {o.Size} was found."),
                _ when count != wanted => (Verdict.NotMet, $"Bar mark {mark.Key}: {count} counted, the drawing shows {wanted}."),
                _ => (Verdict.Met, $"Bar mark {mark.Key}: {count} bars {string.Join(" and ", sizes)}."),
            };
            yield return Matter.Finding(this, $"{unit} bar mark {mark.Key}", verdict, reason, Evidence.Of(drawing)) with
            {
                Limit = $"{wanted} bars {string.Join(" and ", sizes)}",
                LimitConfirmed = true,
                Observed = string.Join(", ", found.Select(b => $"{b.Count} bars {b.Size}")),
                Clear = verdict == Verdict.Met ? "" : "The crew fixes the cage, or the quality engineer asks the engineer of record, before the form closes.",
                Used = [inspection.Id, drawing.Id],
            };
        }

        foreach (var extra in inspection.Fact.Bars.Where(b => drawn.TrueForAll(d => d.Key != b.BarMark)))
        {
            yield return Matter.Finding(this, $"{unit} bar mark {extra.BarMark}", Verdict.NotMet, $"Bar mark {extra.BarMark} was found; the drawing has none of that mark.", Evidence.Of(drawing)) with
            {
                Observed = $"{extra.Count} bars {extra.Size}",
                Clear = "The inspector corrects the mark, or the crew takes the bars out.",
                Used = [inspection.Id, drawing.Id],
            };
        }
    }
}
