using Traceability.Core.Events;

namespace Traceability.Core.Judging.Pour;

/// <summary>The closed form is tight, and it is the form the unit is scheduled in. Needs: unit scheduled, pre-pour inspection.</summary>
public sealed class FormTight : IRequirement
{
    public string Id => "pour.form-tight";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Form closed and tight";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Last<PrePourInspected>() is not { } inspection)
        {
            yield return Evidence.NoPrePour(this, matter);
            yield break;
        }

        var scheduled = matter.File.Scheduled;
        var (verdict, reason) = (inspection.Fact.FormTight, scheduled) switch
        {
            (false, _) => (Verdict.NotMet, "The inspector found the form not tight."),
            (_, null) => (Verdict.Missing, "The unit is not scheduled, so nobody can say which form it belongs in."),
            (_, { } s) when s.Fact.Form != inspection.Fact.Form => (Verdict.CannotTell, $"Form {inspection.Fact.Form} was inspected; the unit is scheduled in form {s.Fact.Form}."),
            _ => (Verdict.Met, $"The inspector found form {inspection.Fact.Form} tight."),
        };
        yield return Matter.Finding(this, unit, verdict, reason, Evidence.PrePour) with
        {
            Limit = "tight",
            LimitConfirmed = true,
            Observed = inspection.Fact.FormTight ? "tight" : "not tight",
            Clear = verdict == Verdict.Met ? "" : "The form crew closes it right and the inspector looks again, or the schedule is corrected.",
            Used = scheduled is null ? [inspection.Id] : [inspection.Id, scheduled.Id],
        };
    }
}
