using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>
/// No release agent on the steel, as the inspector saw it. Needs: close-up inspection. When the form was oiled is a hint
/// for a second look and changes no verdict: the kiosks' times do not show what touched the steel.
/// </summary>
public sealed class NoOilOnSteel : IRequirement
{
    public string Id => "close-up.no-oil-on-steel";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "No oil on the steel";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.Last<CloseUpInspected>() is not { } inspection)
        {
            yield return Evidence.NoCloseUp(this, matter);
            yield break;
        }

        var oil = inspection.Fact.OilOnSteel;
        var later = matter.File.Of<FormOiled>().FirstOrDefault(o => Subject.Unit(o.Fact.Unit) == matter.File.Unit && o.At.Compare(inspection.At) == TimeOrder.After);
        yield return Matter.Finding(this, matter.File.Unit.Key, oil ? Verdict.NotMet : Verdict.Met,
            (oil ? "The inspector saw release agent on the steel." : "The inspector saw no release agent on the steel.")
            + (later is null ? "" : " By the stations' times the form was oiled after this inspection; look again."), Evidence.CloseUp) with
        {
            Limit = "no release agent on reinforcement",
            LimitConfirmed = true,
            Observed = oil ? "oil on the steel" : "none seen",
            Clear = oil ? "The crew cleans or changes the bars and the inspector looks again before the form closes." : "",
            Used = later is null ? [inspection.Id] : [inspection.Id, later.Id],
        };
    }
}
