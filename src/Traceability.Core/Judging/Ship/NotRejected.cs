using Traceability.Core.Events;
using Traceability.Core.Judging.Holds;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// The unit was not rejected, by the plant or by the agency. Needs nothing. A rejected unit is held at every step that was not
/// taken yet and never released again; what takes its place is a casting under a serial of its own.
/// </summary>
public sealed class NotRejected : IRequirement
{
    internal const string Name = "ship.not-rejected";

    private static readonly Citation Source = new("A rejected unit is not delivered", SourceMark.CommonPractice);

    public string Id => Name;
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Not rejected";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (HoldRules.Rejection(matter.File) is not { } rejected)
        {
            yield return Matter.Finding(this, unit, Verdict.Met, "No record rejects the unit.", Source);
            yield break;
        }

        var (by, why) = rejected.Fact switch
        {
            AgencyRejected agency => ("the agency", agency.Reason),
            UnitRejected plant => ("the plant", plant.Reason),
            _ => ("", ""),
        };
        yield return Matter.Finding(this, unit, Verdict.NotMet, $"Rejected by {by} on {HoldRules.Time(rejected.At.At)}: {why}", Source) with
        {
            Clear = "It is disposed of and cast again under a new serial. A rejection made in error is withdrawn.",
            Used = [rejected.Source.Id],
        };
    }
}
