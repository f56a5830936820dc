using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Ship;

/// <summary>A nonconformance of the unit with what became of it.</summary>
/// <param name="Requirement">The requirement it answers; null when it names none.</param>
/// <param name="Settled">Closed, with the disposition and the letters that its class needs, and not by rejecting the unit.</param>
/// <param name="Lacks">What it still lacks, in words; empty when it is settled.</param>
/// <param name="Raised">When it was raised, every time.</param>
internal sealed record NonconformanceState(string Id, string? Requirement, bool Settled, string Lacks, Verdict Verdict, string Observed, IReadOnlyList<Moment> Raised, IReadOnlyList<Guid> Records)
{
    /// <summary>Whether it was raised at what was seen then, or later: one that was there before is about something else. Null when the clocks do not say.</summary>
    public bool? RaisedSince(Moment seen)
    {
        var orders = Raised.Select(r => seen.Compare(r)).ToList();
        return orders.Contains(TimeOrder.After) ? false : orders.Contains(TimeOrder.CannotTell) ? null : true;
    }
}

/// <summary>
/// Every nonconformance of the unit is closed, with a disposition; a structural one that is repaired or used as it is with the
/// engineer of record's letter as well. Needs: nonconformances as far as any were raised.
/// </summary>
public sealed class Nonconformances : IRequirement
{
    private static readonly Citation Source = new("Nonconformances closed before shipping", SourceMark.CommonPractice);

    public string Id => "ship.nonconformances";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Nonconformances closed";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var all = Of(matter).ToList();
        if (all.Count == 0) yield return Matter.Finding(this, matter.File.Unit.Key, Verdict.NotApplicable, "No nonconformance of this unit was raised.", Source);
        foreach (var one in all)
        {
            yield return Matter.Finding(this, $"{matter.File.Unit.Key} nonconformance {one.Id}", one.Verdict, one.Settled ? $"Nonconformance {one.Id} is closed." : $"Nonconformance {one.Id}: {one.Lacks}.", Source) with
            {
                Limit = "closed, with disposition; structural ones with the engineer of record's letter",
                LimitConfirmed = true,
                Observed = one.Observed,
                Clear = one.Settled ? "" : "The quality engineer decides and closes it; the engineer of record's letter is recorded where it touches strength, stability or durability.",
                Used = one.Records,
            };
        }
    }

    internal static IEnumerable<NonconformanceState> Of(Matter matter)
    {
        var file = matter.File;
        foreach (var raised in file.Of<NonconformanceRaised>().Where(n => n.Fact.Units.Contains(file.Unit.Id)).GroupBy(n => n.Fact.Nonconformance).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            // Raised twice under one number: any that is structural or major makes it so.
            var structural = raised.Any(r => r.Fact.NeedsEngineer());
            var disposed = file.Of<NonconformanceDisposed>().LastOrDefault(d => d.Fact.Nonconformance == raised.Key);
            var letters = file.Of<NonconformanceApproved>().Where(a => a.Fact.Nonconformance == raised.Key).ToList();
            var closed = file.Of<NonconformanceClosed>().LastOrDefault(c => c.Fact.Nonconformance == raised.Key);
            var needsLetter = structural && disposed is { Fact.Disposition: DispositionKind.Repair or DispositionKind.UseAsIs };
            var (lacks, verdict) = (disposed, closed) switch
            {
                (null, _) => ("no disposition was decided", Verdict.Missing),
                ({ Fact.Disposition: DispositionKind.Reject }, _) => ("its disposition is to reject the unit", Verdict.NotMet),
                _ when needsLetter && !letters.Exists(l => l.Fact.By == Approver.EngineerOfRecord) => ("it is structural and the engineer of record's letter is not recorded", Verdict.Missing),
                (_, null) => ("it is not closed", Verdict.Missing),
                _ => ("", Verdict.Met),
            };
            yield return new NonconformanceState(raised.Key, raised.Last().Fact.Requirement, lacks.Length == 0, lacks, verdict,
                $"{raised.Last().Fact.Class.ToString().ToLowerInvariant()}{(structural ? ", structural" : "")}: {disposed?.Fact.Disposition.ToString() ?? "no disposition"}",
                [.. raised.Select(r => r.At)],
                [.. raised.Select(r => r.Id), .. disposed is null ? Array.Empty<Guid>() : [disposed.Id], .. letters.Select(l => l.Id), .. closed is null ? Array.Empty<Guid>() : [closed.Id]]);
        }
    }
}
