using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// The cage in the form is one tied for this unit, tied before it was inspected. Needs: cage tied, close-up inspection.
/// Cages get swapped; the heats then belong to another unit.
/// </summary>
public sealed class CageOfThisUnit : IRequirement
{
    public string Id => "close-up.cage-of-this-unit";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Cage of this unit";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<CloseUpInspected>() is not { } inspection)
        {
            yield return Evidence.NoCloseUp(this, matter);
            yield break;
        }

        var cage = inspection.Fact.Cage;
        if (matter.File.Cage is not { } tied)
        {
            yield return Matter.Finding(this, $"{unit} cage {cage}", Verdict.Missing, $"Cage {cage} is in the form; nobody recorded tying it.", Evidence.CloseUp)
                with { Clear = "The cage crew records the cage with its heats.", Used = [inspection.Id], SetAside = matter.Unused<CageTied>() };
            yield break;
        }

        var (verdict, reason) = (Subject.Unit(tied.Fact.Unit) == matter.File.Unit, tied.At.Compare(inspection.At)) switch
        {
            (false, _) => (Verdict.NotMet, $"Cage {cage} was tied for unit {tied.Fact.Unit}."),
            (_, TimeOrder.After) => (Verdict.NotMet, $"Cage {cage} was tied after the close-up inspection."),
            (_, TimeOrder.CannotTell) => (Verdict.CannotTell, $"The two stations' clocks do not say whether cage {cage} was tied before the close-up inspection."),
            _ => (Verdict.Met, $"Cage {cage} was tied for this unit."),
        };
        yield return Matter.Finding(this, $"{unit} cage {cage}", verdict, reason, Evidence.CloseUp) with
        {
            Observed = $"cage {cage}, tied for {tied.Fact.Unit}",
            Clear = verdict == Verdict.Met ? "" : "The inspector looks at the cage in the form and its tag; the quality engineer corrects the record or has the right cage set.",
            Used = [tied.Id, inspection.Id],
        };
    }
}
