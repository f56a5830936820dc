using Traceability.Core.Events;

namespace Traceability.Core.Judging.Holds;

/// <summary>The state of one hold, from its findings and the decisions on it.</summary>
internal static class HoldStates
{
    public static Hold Of(HoldKind kind, IReadOnlyList<Finding> findings, Matter matter)
    {
        var step = Steps.Now(kind, matter.File);
        var rule = HoldRules.Of(matter, kind);
        var open = Judge.Feeding(kind).Prepend(kind).SelectMany(k => findings.Where(f => f.Hold == k && !f.Allows))
            // What contradicts counts for nothing: left out, it could be the one bad record, so it stands in the way until it is settled.
            .Concat(step is null && kind is not (HoldKind.Ship or HoldKind.Acceptance) ? findings.Where(f => Overrides.IsOfEveryStep(f.Requirement) && !f.Allows) : [])
            .Select(f => new OpenItem(f.Requirement, f.Subject, f.Verdict, f.Reason, f.Clear)).ToList();
        var plant = matter.Profile?.Fact.Releases.Contains(kind) ?? true;
        var part = findings.FirstOrDefault(f => f.Hold == kind && Overrides.IsAgency(f.Requirement));
        var agency = rule?.Authority == HoldAuthority.AgencyHold ? part : null;
        var act = agency is null ? null : AgencyActs.Of(matter, rule!);
        var permits = Permit.Of(matter, kind);
        var hold = new Hold(kind, open.Count == 0 ? HoldState.Ready : HoldState.Held, open, plant, null, step?.Record, false)
        {
            Authority = rule?.Authority ?? HoldAuthority.Plant,
            ReleaseRole = rule?.ReleasedBy,
            AgencyRelease = act is { Allows: true } ? act.Record : null,
        };
        hold = step is { } taken ? Taken(hold, matter, permits, taken, agency, act) : Waiting(hold, matter, permits, agency, act);
        return hold with { Alarms = [.. Alarms.Of(hold, matter, permits, part)] };
    }

    private static Hold Taken(Hold hold, Matter matter, IReadOnlyList<Permit> permits, Step step, Finding? agency, AgencyAct? act)
    {
        var stands = permits.Reverse().Select(p => (Permit: p, Stand: p.At(matter, hold.Kind, step.At))).ToList();
        var standing = stands.Find(s => s.Stand.Standing == Standing.Stands);
        var unclear = stands.Find(s => s.Stand.Standing == Standing.CannotTell);
        if (standing.Permit is { } permit) hold = With(hold, permit, null);
        else if (unclear.Permit is { } doubtful)
        {
            hold = With(hold, doubtful, null) with
            {
                State = HoldState.CannotTell,
                Cause = $"The clocks do not say whether the {doubtful.Word} stood when the step was taken{(unclear.Stand.Ended is { } end ? ": " + end.Cause : "")}.",
            };
        }
        else if (hold.NeedsRelease)
        {
            var last = stands.Find(s => s.Stand.Standing == Standing.Ended);
            var late = stands.FindLast(s => s.Stand.Standing == Standing.Later);
            hold = last.Permit is { } ended ? With(hold, ended, null) with { Cause = $"The {ended.Word} had ended before the step was taken: {last.Stand.Ended!.Cause}." }
                : late.Permit is { } later ? With(hold, later, null) with { Cause = $"The {later.Word} came after the step was taken." }
                : hold with { Cause = "No release was recorded before the step was taken." };
            hold = hold with { State = HoldState.PassedWithoutRelease, Contradicted = false };
        }

        return agency?.Verdict switch
        {
            null or Verdict.NotApplicable => hold,
            Verdict.Met or Verdict.Waived or Verdict.Provisional => hold.NeedsRelease || hold.Release is not null ? hold : ByAgency(hold, act),
            Verdict.CannotTell when hold.State != HoldState.PassedWithoutRelease => hold with { State = HoldState.CannotTell, Cause = agency.Reason },
            Verdict.CannotTell => hold,
            _ => hold with { State = HoldState.PassedWithoutRelease, Contradicted = false, Cause = agency.Reason },
        };
    }

    private static Hold Waiting(Hold hold, Matter matter, IReadOnlyList<Permit> permits, Finding? agency, AgencyAct? act)
    {
        if (HoldRules.Rejection(matter.File) is not null) return hold with { State = HoldState.Held, Cause = "The unit was rejected." };
        Hold? over = null;
        (Permit Permit, Ending Ended)? last = null;
        foreach (var permit in permits.Reverse().Where(p => !p.IsOfEarlierShipment(matter, hold.Kind)))
        {
            var stand = permit.Now(matter, hold.Kind);
            if (stand.Standing == Standing.Ended)
            {
                last ??= (permit, stand.Ended!);
                continue;
            }

            var let = With(hold, permit, stand.Until);
            if (permit.IsOverride && permit.NotCovered(hold.OpenItems).FirstOrDefault() is { } item)
            {
                over ??= let with { State = HoldState.Held, Contradicted = false, Cause = $"The override does not go over {Overrides.Key(item)}." };
                continue;
            }

            // The plant's release of an agency's hold waits for the agency.
            return agency is { Allows: false } ? let with { State = HoldState.Held, Contradicted = false, Cause = agency.Reason } : let;
        }

        if (over is not null) return over;
        if (last is var (ended, by))
        {
            var cause = $"The {ended.Word} has ended: {by.Cause}.";
            return by.By == EndedBy.Undone || ended.IsOverride ? hold with { Cause = cause } : With(hold, ended, null) with { State = HoldState.Expired, Contradicted = false, Cause = cause };
        }

        return !hold.NeedsRelease && act is { Allows: true } && hold.OpenItems.Count == 0 ? ByAgency(hold, act) : hold;
    }

    private static Hold With(Hold hold, Permit permit, DateTimeOffset? until) => hold with
    {
        State = permit.IsOverride ? HoldState.Overridden : HoldState.Released,
        Release = permit.Entry.Source.Id,
        ReleasedBy = permit.Entry.Person,
        Scope = permit.Scope,
        ValidUntil = until ?? permit.ValidUntil,
        Contradicted = permit.NotCovered(hold.OpenItems).Any(),
    };

    private static Hold ByAgency(Hold hold, AgencyAct? act) => hold with
    {
        State = HoldState.Released,
        Release = act?.Record,
        ReleasedBy = act?.By?.Person,
        ValidUntil = act?.Until,
        Contradicted = hold.OpenItems.Count > 0,
    };
}
