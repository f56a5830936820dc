using Traceability.Core.Events;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// Spacing of the bars inside the tolerance, which holds only while the count is the drawing's. Needs: drawing, close-up
/// inspection.
/// </summary>
public sealed class Spacing : IRequirement
{
    private const string Tolerance = "spacing.tolerance";

    public string Id => "close-up.spacing";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Spacing of the bars";
    public IReadOnlyList<string> Limits => [Tolerance];

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

        if (matter.Limit(Tolerance) is not { } tolerance)
        {
            yield return matter.NoLimit(this, unit, Tolerance);
            yield break;
        }

        var spaced = drawing.Fact.Bars.Where(b => b.SpacingIn is not null).ToList();
        if (spaced.Count == 0)
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, "The drawing gives no bar mark a spacing.", Evidence.Of(drawing)) with { Used = [drawing.Id] };

        foreach (var line in spaced)
        {
            var subject = $"{unit} bar mark {line.BarMark} at {line.SpacingIn!.Value.Text} in";
            var found = inspection.Fact.Bars.Where(b => b.BarMark == line.BarMark).ToList();
            var wanted = drawing.Fact.Bars.Where(b => b.BarMark == line.BarMark).Sum(b => (long)b.Count);
            if (found.Count == 0 || found.Exists(b => b.SpacingIn is null))
            {
                yield return Matter.Finding(this, subject, Verdict.Missing, $"The spacing of bar mark {line.BarMark} was not measured.", tolerance.Source) with
                {
                    Limit = tolerance.Printed, LimitConfirmed = tolerance.ConfirmedBy is not null,
                    Clear = "The plant inspector measures it before the form closes.", Used = [inspection.Id, drawing.Id],
                };
                continue;
            }

            var far = found.MaxBy(b => Math.Abs(b.SpacingIn!.Value.Value - line.SpacingIn.Value.Value))!;
            var off = far.SpacingIn!.Value.Value - line.SpacingIn.Value.Value;
            var within = Math.Abs(off) <= tolerance.Value.Value;
            var counted = found.Sum(b => (long)b.Count) == wanted;
            var reason = !within ? $"Bar mark {line.BarMark}: {far.SpacingIn.Value.Text} in measured, {line.SpacingIn.Value.Text} in drawn."
                : counted ? $"Bar mark {line.BarMark}: {far.SpacingIn.Value.Text} in, the count as drawn."
                : $"Bar mark {line.BarMark}: the tolerance on spacing holds only with the count as drawn, {wanted} bars.";
            yield return matter.Against(this, subject, tolerance, within && counted, reason, far.SpacingIn.Value.Text + " in") with
            {
                Rounding = "compared as read",
                Clear = within && counted ? "" : "The crew moves the bars and the inspector measures again before the form closes.",
                Used = [inspection.Id, drawing.Id, matter.Profile!.Id],
            };
        }
    }
}
