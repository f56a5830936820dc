using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

internal enum Coverage { Yes, No, CannotTell, GivenAfter }

/// <summary>A waiver of the agency that names the unit: for one hold or one requirement, from a moment until a moment.</summary>
internal sealed record Waiver(AgencyWaived Fact, Entry Entry)
{
    public string Words =>
        $"letter {Fact.Letter}, from {HoldRules.Time(Fact.From)} until {HoldRules.Time(Fact.Until)}{(Fact.Conditions is { } conditions ? ", on condition: " + conditions : "")}";

    /// <summary>The waivers of the hold itself, the one that lasts longest first.</summary>
    public static IEnumerable<Waiver> Of(Matter matter, HoldKind hold) => Of(matter, w => w.Requirement is null && w.Hold == hold);

    /// <summary>
    /// The waivers of a finding's requirement. One for a later hold counts once the finding's own step was taken: it lets the
    /// unit go on from there, and never opened the earlier step.
    /// </summary>
    public static IEnumerable<Waiver> Of(Matter matter, Finding finding) =>
        Of(matter, w => string.Equals(w.Requirement, finding.Requirement, StringComparison.Ordinal)
            && (w.Hold == finding.Hold || (w.Hold > finding.Hold && Steps.Now(finding.Hold, matter.File) is not null)));

    private static IEnumerable<Waiver> Of(Matter matter, Func<AgencyWaived, bool> which) =>
        OfContract.Now<AgencyWaived>(matter.File).Where(w => which(w.Fact) && Names(w.Fact, matter.File.Unit))
            .OrderByDescending(w => w.Fact.Until).ThenBy(w => w.Id).Select(w => new Waiver(w.Fact, w.Whole));

    public static bool Names(AgencyWaived waived, Subject unit) => waived.Units.Any(u => Subject.Unit(u) == unit);

    /// <summary>Whether it covers the step, or this moment while the step was not taken.</summary>
    /// <param name="evenAfterwards">A requirement may be waived after its step; whether a step might be taken may not.</param>
    public Coverage Covers(Matter matter, Step? step, bool evenAfterwards = false)
    {
        if (step is not { } taken) return matter.HasCome(Fact.From) && !matter.HasCome(Fact.Until.AddTicks(1)) ? Coverage.Yes : Coverage.No;
        var begins = new Moment(Fact.From, TimeSpan.Zero, "").Compare(taken.At);
        var ends = new Moment(Fact.Until, TimeSpan.Zero, "").Compare(taken.At);
        if (begins == TimeOrder.After || ends == TimeOrder.Before) return Coverage.No;
        var given = evenAfterwards ? TimeOrder.Before : Entry.At.Compare(taken.At);
        if (given == TimeOrder.After) return Coverage.GivenAfter;
        return begins == TimeOrder.CannotTell || ends == TimeOrder.CannotTell || given == TimeOrder.CannotTell ? Coverage.CannotTell : Coverage.Yes;
    }
}
