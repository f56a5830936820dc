using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Pour;

/// <summary>The scheduled mix is approved and its approval covers the day of the pour. Needs: unit scheduled, mix approved.</summary>
public sealed class MixCurrent : IRequirement
{
    private static readonly Citation Source = new("Approved mix before use", SourceMark.CommonPractice);

    public string Id => "pour.mix-approved";
    public Events.HoldKind Hold => Events.HoldKind.Pour;
    public string Title => "Mix approved and current";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Scheduled is not { } scheduled || Evidence.PourDay(matter.File) is not { } day)
        {
            yield return Matter.Finding(this, unit, Verdict.Missing, "The unit is not scheduled with a mix.", Source)
                with { Clear = "The quality engineer schedules the unit.", SetAside = matter.Unused<Events.UnitScheduled>() };
            yield break;
        }

        var mix = scheduled.Fact.Mix;
        var approvals = matter.File.Of<Events.MixApproved>().Where(m => m.Fact.Mix == mix).ToList();
        var valid = Evidence.MixInForce(matter, mix, day);
        var (verdict, reason) = (approvals.Count, valid) switch
        {
            (0, _) => (Verdict.Missing, $"No approval of mix {mix} is recorded."),
            (_, null) => (Verdict.NotMet, $"The approval of mix {mix} runs {approvals[^1].Fact.ApprovedOn:yyyy-MM-dd} through {(approvals[^1].Fact.ValidThrough is { } end ? end.ToString("yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture) : "open")}, not on {day:yyyy-MM-dd}."),
            (_, { } v) => (Verdict.Met, $"Mix {mix} is approved on {day:yyyy-MM-dd} by {v.Fact.ApprovalDocument}."),
        };
        yield return Matter.Finding(this, $"{unit} {Records.Subject.Mix(mix).Key}", verdict, reason, valid is null ? Source : Evidence.Of(valid)) with
        {
            Limit = "approved on the day of the pour",
            LimitConfirmed = true,
            Observed = $"pour on {day:yyyy-MM-dd}",
            Clear = verdict == Verdict.Met ? "" : "The quality engineer records the approval or schedules an approved mix.",
            Used = [scheduled.Id, .. approvals.Select(a => a.Id)],
            SetAside = matter.Unused<Events.MixApproved>(),
        };
    }
}
