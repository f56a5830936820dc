using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// No concrete of a rejected load is in the unit. Needs: placement, load rejected. Some of it may have been placed before the
/// load was rejected: the placement rows say so, and a later acceptance of the same load does not take it back.
/// </summary>
public sealed class RejectedConcrete : IRequirement
{
    private static readonly Citation Source = new("Rejected concrete is not placed", SourceMark.CommonPractice);

    public string Id => "place.rejected-concrete";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "No rejected concrete in the unit";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.BatchSubjects.Count == 0) return [Evidence.NoPlacement(this, matter, Source)];
        return matter.File.BatchSubjects.Order().Select(batch =>
        {
            var rejected = matter.File.Of<LoadRejected>().FirstOrDefault(r => r.Fact.About == batch);
            var rows = matter.File.Placements.Where(p => p.Row.Batch.Subject == batch).ToList();
            return Matter.Finding(this, batch.Key, rejected is null ? Verdict.Met : Verdict.NotMet,
                rejected is null ? $"Batch {batch.Id} is not rejected." : $"{Matter.Text(rows.Sum(r => r.Row.VolumeYd3.Value))} yd3 of rejected batch {batch.Id} is in the unit: {rejected.Fact.Reason}", Source) with
            {
                Limit = "no rejected concrete",
                LimitConfirmed = true,
                Observed = rejected is null ? "not rejected" : "rejected",
                Clear = rejected is null ? "" : "The quality engineer raises a nonconformance; whether the concrete stays is for the engineer of record.",
                Used = [.. rows.Select(r => r.Pour.Id).Distinct(), .. rejected is null ? Array.Empty<Guid>() : [rejected.Id]],
            };
        });
    }
}
