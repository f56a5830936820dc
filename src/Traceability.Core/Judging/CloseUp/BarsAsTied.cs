using Traceability.Core.Concrete;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// The cage's own record agrees with the schedule: size and count of every bar mark, and a heat or a rack for every bar.
/// Needs: drawing, cage tied. It is judged beside the inspector's count: heats follow the cage's record.
/// </summary>
public sealed class BarsAsTied : IRequirement
{
    private static readonly Citation Source = new("Cage record and bar schedule agree", SourceMark.CommonPractice);

    // Length and spacing are no part of what the crew reports; the inspector's readings of them have requirements of their own.
    private static readonly ScheduleTolerance NotTold = new(0, 0);

    public string Id => "close-up.bars-as-tied";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Bars tied as scheduled";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Cage is not { } cage)
        {
            yield return Evidence.Absent<CageTied>(this, matter, unit, "No cage has been tied for this unit yet.", "The cage crew records the cage with its bars.", Source);
            yield break;
        }

        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Source) with { Used = [cage.Id] };
            yield break;
        }

        var differences = Schedule.Differences(
            [.. drawing.Fact.Bars.Select(b => new ScheduleLine(b.BarMark, b.Size, b.Count))],
            [.. cage.Fact.Bars.Select(b => new ScheduleLine(b.BarMark, b.Size, b.Count, null, null, b.Rack is null ? [.. b.Lots.Select(l => l.Number)] : [b.Rack]))], NotTold);
        foreach (var difference in differences)
        {
            yield return Matter.Finding(this, $"{unit} {cage.Fact.About.Key} bar mark {difference.Mark}", Verdict.NotMet, $"Bar mark {difference.Mark}: {Words(difference)}.", Evidence.Of(drawing)) with
            {
                Limit = difference.Scheduled,
                LimitConfirmed = true,
                Observed = difference.Tied,
                Clear = "The crew corrects the cage's record, or fixes the cage before the form closes.",
                Used = [cage.Id, drawing.Id],
            };
        }

        if (differences.Count == 0)
        {
            yield return Matter.Finding(this, $"{unit} {cage.Fact.About.Key}", Verdict.Met, $"Cage {cage.Fact.Cage} is recorded with the bars of the schedule.", Evidence.Of(drawing))
                with { Used = [cage.Id, drawing.Id] };
        }
    }

    private static string Words(ScheduleDifference difference) => difference.Matter switch
    {
        ScheduleMatter.NotTied => $"the schedule has {difference.Scheduled}, the cage's record none",
        ScheduleMatter.NotScheduled => $"the cage's record has {difference.Tied}, the schedule none of that mark",
        ScheduleMatter.Size => $"size {difference.Tied} tied, {difference.Scheduled} scheduled",
        ScheduleMatter.Count => $"{difference.Tied} bars tied, {difference.Scheduled} scheduled",
        _ => "no heat is named",
    };
}
