using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.People;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

/// <summary>What the agency's part in a hold comes to, at the step or now.</summary>
/// <param name="Until">Until when the agency's release or waiver stands, where that is stated.</param>
internal sealed record AgencyAct(Verdict Verdict, string Reason, Entry? By = null, DateTimeOffset? Until = null)
{
    public Guid? Record => By?.Source.Id;

    public bool Allows => Verdict is Verdict.Met or Verdict.Waived or Verdict.Provisional;
}

internal static class AgencyActs
{
    public static AgencyAct Of(Matter matter, HoldRule rule)
    {
        var step = Steps.Now(rule.Hold, matter.File);
        var why = new List<string>();
        var acts = rule.Authority == HoldAuthority.AgencyHold ? Releases(matter, rule, step, why) : AgencyNotice.Of(matter, rule, step, why);
        // Lazily, best first: what is not needed is not asked, so that no moment is named that changes nothing.
        AgencyAct? unclear = null;
        foreach (var act in acts.Concat(Waivers(matter, rule.Hold, step, why)))
        {
            if (act.Allows) return act;
            unclear ??= act;
        }

        if (unclear is not null) return unclear;
        foreach (var entry in matter.File.Entries.Where(e => Concerns(e.Fact, matter.File.Unit, rule.Hold)))
        {
            if (Agencies.NotHeard(matter.File, entry) is { } voice) why.Add($"What was recorded on {HoldRules.Time(entry.At.At)} does not count: {voice}.");
        }

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

    private static bool Concerns(IFact fact, Subject unit, HoldKind hold) => fact is IAgencyAct act && act.Acted.Contains(unit) && fact switch
    {
        AgencyPresent present => present.Hold == hold,
        AgencyWitnessed witnessed => witnessed.Hold == hold,
        AgencyHoldReleased released => released.Hold == hold,
        AgencyWaived waived => waived.Hold == hold,
        _ => false,
    };

    // The newest first: that is the one that counts where several stand.
    private static IEnumerable<AgencyAct> Releases(Matter matter, HoldRule rule, Step? step, List<string> why)
    {
        var hold = rule.Hold;
        var releases = OfContract.Now<AgencyHoldReleased>(matter.File).Where(r => r.Fact.About == matter.File.Unit && r.Fact.Hold == hold).ToList();
        foreach (var release in Enumerable.Reverse(releases))
        {
            var endings = Endings.Of(matter, hold, release.Whole, null, release.Fact.ValidUntil);
            var stand = step is { } taken ? Stand.At(release.At, endings, taken.At) : Stand.Now(matter, endings);
            var said = $"of {HoldRules.Time(release.At.At)}" + (release.Fact.Letter is { } letter ? $", letter {letter}" : $" by {release.Person ?? "nobody named"}");
            switch (stand.Standing)
            {
                case Standing.Stands when release.Fact.Telephone is { } call:
                    if (Telephoned(matter, rule, releases, release, call, step is not null, stand.Until ?? release.Fact.ValidUntil, why) is { } spoken) yield return spoken;
                    break;
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

    // Good for the step while its confirmation is due; a step that was taken on it stays provisional until the agency confirms.
    private static AgencyAct? Telephoned(Matter matter, HoldRule rule, List<Entry<AgencyHoldReleased>> releases, Entry<AgencyHoldReleased> release, ByTelephone call, bool taken, DateTimeOffset? until, List<string> why)
    {
        var said = $"by telephone, {call.Speaker} at {HoldRules.Time(call.SaidAt)}: \"{call.Words}\"";
        if (rule.TelephoneHours is not { } hours)
        {
            why.Add($"The agency's release {said} does not count: the profile allows none by telephone.");
            return null;
        }

        if (releases.Find(r => r.Fact.Telephone is null && r.At.At >= release.At.At) is { } confirmed)
            return new(Verdict.Met, $"Released by the agency {said}. Confirmed {HoldRules.Time(confirmed.At.At)}{(confirmed.Fact.Letter is { } letter ? $", letter {letter}" : $" by {confirmed.Person ?? "nobody named"}")}.", release.Whole, until);
        var due = Evidence.Later(call.SaidAt, TimeSpan.FromTicks((long)Math.Min(hours.Value * TimeSpan.TicksPerHour, long.MaxValue / 2)));
        var late = matter.HasCome(due);
        if (late && !taken)
        {
            why.Add($"The agency's release {said} was not confirmed by {HoldRules.Time(due)}.");
            return null;
        }

        return new(Verdict.Provisional, $"Released by the agency {said}. {(late ? "Confirmation overdue since" : "Confirmation due by")} {HoldRules.Time(due)}.", release.Whole, taken ? until : until < due ? until : due);
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
