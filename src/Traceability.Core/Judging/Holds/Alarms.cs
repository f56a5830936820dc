using Traceability.Core.Events;

namespace Traceability.Core.Judging.Holds;

/// <summary>What of a hold somebody has to hear of, whatever came after it.</summary>
internal static class Alarms
{
    public static IEnumerable<Alarm> Of(Hold hold, Matter matter, IReadOnlyList<Permit> permits, Finding? agency)
    {
        var what = HoldRules.Words(hold.Kind);
        if (hold.State == HoldState.PassedWithoutRelease) yield return new(AlarmKind.PassedWithoutRelease, $"The step after the {what} hold was taken without a release. {hold.Cause}", hold.Step);
        if (hold.State == HoldState.CannotTell) yield return new(AlarmKind.CannotTell, hold.Cause ?? "", hold.Step);
        if (hold.State == HoldState.Expired) yield return new(AlarmKind.Expired, hold.Cause ?? "", hold.Release);
        if (hold.Contradicted) yield return new(AlarmKind.Contradicted, $"Evidence known now would not allow what the {what} hold was {(hold.State == HoldState.Overridden ? "overridden" : "released")} for: {hold.OpenItems.Count} open.", hold.Release);
        if (hold is { Authority: HoldAuthority.AgencyWitness, Step: { } taken } && agency is { Allows: false }) yield return new(AlarmKind.WithoutNotice, agency.Reason, taken);
        foreach (var (entry, why) in Overrides.Breaches(matter, hold.Kind))
            yield return new(AlarmKind.OverrideBreach, $"An override of the {what} hold by {entry.Person ?? "nobody named"} opens nothing: {why}.", entry.Source.Id);
        if (!hold.NeedsRelease) yield break;
        foreach (var step in Steps.Before(hold.Kind, matter.File))
        {
            if (!permits.Any(p => p.At(matter, hold.Kind, step.At).Standing == Standing.Stands))
                yield return new(AlarmKind.PassedWithoutRelease, $"An earlier {what}, of {HoldRules.Time(step.At.At)}, had no release that stood.", step.Record);
        }
    }
}
