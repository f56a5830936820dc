using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Nothing moved in the form while the concrete was placed, or it was put back before the concrete set. Needs: placement, displacement
/// seen, pour checked.
/// </summary>
public sealed class NothingDisplaced : IRequirement
{
    private static readonly Citation Source = new("Displacement in the form is recorded and looked at", SourceMark.CommonPractice);

    public string Id => "place.nothing-displaced";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Nothing displaced in the form";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (!matter.File.Placements.Any()) return [Evidence.NoPlacement(this, matter, Source)];
        var seen = matter.File.Of<DisplacementSeen>().Where(d => Subject.Unit(d.Fact.Unit) == matter.File.Unit).Select(d => Matter.Finding(this, $"{unit} {d.Fact.What.ToString().ToLowerInvariant()}", d.Fact.PutBack ? Verdict.Met : Verdict.NotMet,
            $"The {d.Fact.What.ToString().ToLowerInvariant()} moved{(d.Fact.MovedIn is { } by ? $" {by.Text} in" : "")}{(d.Fact.PutBack ? " and was put back" : "")}: {d.Fact.Remarks}", Source) with
        {
            Limit = "in place, or put back before the concrete sets",
            LimitConfirmed = true,
            Observed = d.Fact.PutBack ? "put back" : "displaced",
            Clear = d.Fact.PutBack ? "" : "The inspector measures it; the quality engineer raises a nonconformance and asks the engineer of record.",
            Used = [d.Id],
        }).ToList();
        var checks = matter.File.Of<PourChecked>().Where(c => Subject.Unit(c.Fact.Unit) == matter.File.Unit && !c.Fact.InsertsInPlace).Select(c => Matter.Finding(this, $"{unit} inserts", Verdict.NotMet, "The inspector saw inserts out of place in the fresh concrete.", Source)
            with { Observed = "out of place", Clear = "The quality engineer raises a nonconformance and asks the engineer of record.", Used = [c.Id] });
        seen.AddRange(checks);
        return seen.Count > 0 ? seen : [Matter.Finding(this, unit, Verdict.Met, "No displacement is recorded.", Source) with { Used = [.. matter.File.Placements.Select(p => p.Pour.Id).Distinct()] }];
    }
}
