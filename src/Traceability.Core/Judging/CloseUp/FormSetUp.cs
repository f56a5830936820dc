using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// The set-up of the form was inspected, found fit and not rebuilt since. Needs: close-up inspection, form inspected, form
/// rebuilt, form closed. Asked only where the profile asks it.
/// </summary>
public sealed class FormSetUp : IRequirement
{
    private const string Asked = "form.set-up-inspected";

    private static readonly Citation Source = new("Set-up of a form inspected on first use and after a rebuild", SourceMark.CommonPractice);

    public string Id => "close-up.form-set-up";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Set-up of the form inspected";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Asked) is not { Value.Value: > 0 } asked) return [Evidence.NotAsked(this, matter, unit, Asked, Source)];
        if (matter.File.Last<CloseUpInspected>() is not { } closeUp) return [Evidence.NoCloseUp(this, matter)];

        var form = closeUp.Fact.Form;
        var closed = matter.File.Of<FormClosed>().LastOrDefault(c => Subject.Unit(c.Fact.Unit) == matter.File.Unit && c.Fact.Form == form);
        var inspected = matter.File.Of<FormInspected>().LastOrDefault(i => i.Fact.Form == form && i.At.Compare(closeUp.At) == TimeOrder.Before);
        var rebuilt = inspected is null ? null : matter.File.Of<FormRebuilt>().LastOrDefault(r => r.Fact.Form == form && r.At.Compare(inspected.At) != TimeOrder.Before && r.At.Compare(closeUp.At) != TimeOrder.After);
        var (verdict, reason) = (inspected, rebuilt, closed) switch
        {
            (null, _, _) => (Verdict.Missing, $"No inspection of form {form} before the close-up is recorded."),
            ({ Fact.Fit: false } i, _, _) => (Verdict.NotMet, $"Set-up {i.Fact.SetUp} of form {form} was found not fit."),
            ({ } i, { } r, _) => (Verdict.NotMet, $"Form {form} was rebuilt to {r.Fact.SetUp} after set-up {i.Fact.SetUp} was inspected."),
            ({ } i, _, { } c) when c.Fact.SetUp != i.Fact.SetUp => (Verdict.NotMet, $"Form {form} was closed in set-up {c.Fact.SetUp}; set-up {i.Fact.SetUp} was inspected."),
            ({ } i, _, _) => (Verdict.Met, $"Set-up {i.Fact.SetUp} of form {form} was found fit."),
        };
        return
        [
            Matter.Finding(this, $"{unit} form {form}", verdict, reason, asked.Source) with
            {
                Limit = asked.Printed,
                LimitConfirmed = asked.ConfirmedBy is not null,
                Observed = inspected?.Fact.SetUp ?? "",
                Clear = verdict == Verdict.Met ? "" : "The plant inspector inspects the set-up before the form closes.",
                Used = [closeUp.Id, matter.Profile!.Id, .. new[] { inspected?.Id, rebuilt?.Id, closed?.Id }.OfType<Guid>()],
                SetAside = matter.Unused<FormInspected>(),
            },
        ];
    }
}
