using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// The cage was neither moved nor exchanged after it was inspected in its form. Needs: close-up inspection; cage moved, cage
/// swapped. One that was is inspected again.
/// </summary>
public sealed class CageUndisturbed : IRequirement
{
    public string Id => "close-up.cage-undisturbed";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Cage undisturbed since its inspection";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<CloseUpInspected>() is not { } inspection)
        {
            yield return Evidence.NoCloseUp(this, matter);
            yield break;
        }

        var moves = matter.File.Of<CageMoved>().Where(m => m.Fact.Cage == inspection.Fact.Cage).Select(m => (m.Id, m.At, What: $"Cage {m.Fact.Cage} was moved to {m.Fact.To}"))
            .Concat(matter.File.Of<CageSwapped>().Where(s => Subject.Unit(s.Fact.Unit) == matter.File.Unit).Select(s => (s.Id, s.At, What: $"Cage {s.Fact.CageOut} was exchanged for cage {s.Fact.CageIn}")))
            .Select(m => (m.Id, m.What, Order: m.At.Compare(inspection.At))).Where(m => m.Order != TimeOrder.Before).ToList();
        foreach (var (id, what, order) in moves)
        {
            yield return Matter.Finding(this, $"{unit} cage {inspection.Fact.Cage}", order == TimeOrder.After ? Verdict.NotMet : Verdict.CannotTell,
                order == TimeOrder.After ? what + " after the close-up inspection." : what + "; the stations' clocks do not say whether before the close-up inspection.", Evidence.CloseUp) with
            {
                Observed = what,
                Clear = "The inspector inspects the cage in its form again.",
                Used = [inspection.Id, id],
            };
        }

        if (moves.Count == 0)
            yield return Matter.Finding(this, $"{unit} cage {inspection.Fact.Cage}", Verdict.Met, $"No move of cage {inspection.Fact.Cage} is recorded after its inspection.", Evidence.CloseUp) with { Used = [inspection.Id] };
    }
}
