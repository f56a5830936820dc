using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

/// <summary>What the agency's part in a hold comes to, at the step or now.</summary>
/// <param name="Until">Until when the agency's release or waiver stands, where that is stated.</param>
internal sealed record AgencyAct(Verdict Verdict, string Reason, Entry? By = null, DateTimeOffset? Until = null)
{
    public Guid? Record => By?.Source.Id;

    public bool Allows => Verdict is Verdict.Met or Verdict.Waived;
}

internal static class AgencyActs
{
    public static AgencyAct Of(Matter matter, HoldRule rule)
    {
        var step = Steps.Now(rule.Hold, matter.File);
        var why = new List<string>();
        var acts = rule.Authority == HoldAuthority.AgencyHold ? Releases(matter, rule.Hold, step, why) : AgencyNotice.Of(matter, rule, step, why);
        // Lazily, best first: what is not needed is not asked, so that no moment is named that changes nothing.
        AgencyAct? unclear = null;
        foreach (var act in acts.Concat(Waivers(matter, rule.Hold, step, why)))
        {
            if (act.Allows) return act;
            unclear ??= act;
        }

        if (unclear is not null) return unclear;
        var what = HoldRules.Words(rule.Hold);
        var none = (rule.Authority, Taken: step is not null) switch
        {
            (HoldAuthority.AgencyHold, true) => $"The step was taken without the agency's release of the {what} hold of this unit.",
            (HoldAuthority.AgencyHold, false) => $"The agency has not released its {what} hold of this unit.",
            (_, true) => $"The step was taken without due notice to the agency for the {what} of this unit.",
            _ => $"The agency has no due notice of the {what} of this unit, and is not recorded as present.",
        };
        return new(step is null ? Verdict.Pending : Verdict.NotMet, string.Join(" ", why.Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal).Prepend(none)));
    }

    // The newest first: that is the one that counts where several stand.
    private static IEnumerable<AgencyAct> Releases(Matter matter, HoldKind hold, Step? step, List<string> why)
    {
        foreach (var release in OfContract.Now<AgencyHoldReleased>(matter.File).Where(r => r.Fact.About == matter.File.Unit && r.Fact.Hold == hold).Reverse())
        {
            var endings = Endings.Of(matter, hold, release.Whole, null, release.Fact.ValidUntil);
            var stand = step is { } taken ? Stand.At(release.At, endings, taken.At) : Stand.Now(matter, endings);
            var said = $"of {HoldRules.Time(release.At.At)}" + (release.Fact.Letter is { } letter ? $", letter {letter}" : $" by {release.Person ?? "nobody named"}");
            switch (stand.Standing)
            {
                case Standing.Stands:
                    yield return new(Verdict.Met, $"Released by the agency, {said[3..]}.", release.Whole, stand.Until ?? release.Fact.ValidUntil);
                    break;
                case Standing.CannotTell:
                    yield return new(Verdict.CannotTell, $"The clocks do not say whether the agency's release {said} stood when the step was taken.", release.Whole);
                    break;
                case Standing.Later:
                    why.Add($"The agency's release {said} came after it.");
                    break;
                default:
                    why.Add($"The agency's release {said} had ended: {stand.Ended!.Cause}.");
                    break;
            }
        }
    }

    private static IEnumerable<AgencyAct> Waivers(Matter matter, HoldKind hold, Step? step, List<string> why)
    {
        foreach (var waiver in Waiver.Of(matter, hold))
        {
            switch (waiver.Covers(matter, step))
            {
                case Coverage.Yes:
                    yield return new(Verdict.Waived, $"Waived by the agency: {waiver.Words}.", waiver.Entry, waiver.Fact.Until);
                    break;
                case Coverage.CannotTell:
                    yield return new(Verdict.CannotTell, $"The clocks do not say whether the step was taken within the agency's waiver: {waiver.Words}.", waiver.Entry);
                    break;
                case Coverage.GivenAfter:
                    why.Add($"The agency's waiver came after the step: {waiver.Words}.");
                    break;
                default:
                    why.Add($"The agency's waiver does not cover {(step is { } taken ? HoldRules.Time(taken.At.At) : "this moment")}: {waiver.Words}.");
                    break;
            }
        }

        foreach (var other in OfContract.Now<AgencyWaived>(matter.File).Where(w => w.Fact.Requirement is null && w.Fact.Hold != hold && Waiver.Names(w.Fact, matter.File.Unit)))
            why.Add($"The agency's letter {other.Fact.Letter} waives the {HoldRules.Words(other.Fact.Hold)} hold, not this one.");
    }
}
