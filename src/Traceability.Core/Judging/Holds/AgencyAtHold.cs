using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Holds;

/// <summary>
/// The agency acted where the profile makes a hold the agency's: released it, or had due notice or was present where it only
/// witnesses, or waived that for this unit and this moment. Needs: profile, and what the agency did. Nothing of the plant
/// stands in for it.
/// </summary>
public abstract class AgencyAtHold(string id, HoldKind hold) : IRequirement
{
    public string Id => id;
    public HoldKind Hold => hold;
    public string Title => "The agency's part in the hold";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var rule = HoldRules.Of(matter, hold);
        var source = HoldRules.Source(matter, rule);
        var unit = matter.File.Unit.Key;
        if (matter.Profile is not { } profile)
        {
            yield return Matter.Finding(this, unit, Verdict.Missing, "No profile is in force: nobody can say whether the agency acts at this hold.", source)
                with { Clear = "The quality engineer opens the contract and publishes the profile it adopted." };
            yield break;
        }

        if (rule is null or { Authority: HoldAuthority.Plant })
        {
            yield return Matter.Finding(this, unit, Verdict.NotApplicable, $"Under {profile.Fact.About.Id} the {HoldRules.Words(hold)} hold is the plant's own.", source) with { Used = [profile.Id] };
            yield break;
        }

        var act = AgencyActs.Of(matter, rule);
        yield return Matter.Finding(this, unit, act.Verdict, act.Reason, source) with
        {
            Limit = rule.Authority == HoldAuthority.AgencyHold ? "released by the agency" : rule.NoticeHours is { } hours ? $"{hours.Text} hours' notice to the agency" : "notice to the agency",
            LimitConfirmed = true,
            Clear = act.Verdict == Verdict.Provisional ? "The agency's inspector confirms the release, or the quality engineer enters the agency's letter that does." : act.Allows ? "" : rule.Authority == HoldAuthority.AgencyHold ? "The agency releases its hold or waives it by letter; no decision of the plant does." : "The quality engineer gives the agency notice, or the agency waives it by letter.",
            Used = act.Record is { } record ? [profile.Id, record] : [profile.Id],
        };
    }
}

public sealed class AgencyAtTying() : AgencyAtHold("tying.agency", HoldKind.Tying);

public sealed class AgencyAtCloseUp() : AgencyAtHold("close-up.agency", HoldKind.CloseUp);

public sealed class AgencyAtPour() : AgencyAtHold("pour.agency", HoldKind.Pour);

public sealed class AgencyAtPlace() : AgencyAtHold("place.agency", HoldKind.Place);

public sealed class AgencyAtStrip() : AgencyAtHold("strip.agency", HoldKind.Strip);

public sealed class AgencyAtShip() : AgencyAtHold("ship.agency", HoldKind.Ship);

public sealed class AgencyAtAcceptance() : AgencyAtHold("acceptance.agency", HoldKind.Acceptance);
