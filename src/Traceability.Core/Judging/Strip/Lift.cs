using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;

namespace Traceability.Core.Judging.Strip;

/// <summary>
/// Lifting out of the form: the strength the drawing asks at the lift was reached, and an insert carries the required
/// multiple of a leg's load. Needs: drawing, strip set, and the strip itself once it happened: then the legs that really
/// carried and the sling angle as it was count, before it those of the drawing. A check of records; the rigging is decided
/// under the local codes and by the licensed engineer, and nobody is under the piece.
/// </summary>
public sealed class Lift : IRequirement
{
    private const string Factor = "lifting.insert-factor", Edge = "lifting.edge-distance", LeastAngle = "lifting.sling-angle";
    private const string Caution = "Do not lift. The quality engineer asks the licensed engineer; local codes decide.";

    private static readonly Citation Source = new("29 CFR 1926", SourceMark.Published, Clause: "1926.704(c)");

    public string Id => "strip.lifting";
    public HoldKind Hold => HoldKind.Strip;
    public string Title => "Lifting out of the form";
    public IReadOnlyList<string> Limits => [Factor, Edge, LeastAngle, .. CylinderSet.Limits];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Source);
            yield break;
        }

        foreach (var finding in AsLifted(matter, drawing)) yield return finding;
        var strength = drawing.Fact.Lifting.StrengthRequiredPsi;
        var dry = matter.File.Mix is { Fact.DryCast: true };
        if (dry) yield return Matter.Finding(this, $"{unit} strength at the lift", Verdict.NotApplicable, "Dry-cast concrete leaves its form on a pallet, not by its inserts.", Source) with { Used = [drawing.Id] };
        var sets = dry ? [] : StripStrength.Sets(matter, strength.Value).ToList();
        if (sets.Count == 0 && !dry)
            yield return Evidence.Absent<SampleTested>(this, matter, $"{unit} strength at the lift", "No strip cylinders of concrete in this unit are recorded.", Caution, Source) with { Used = [drawing.Id] };
        foreach (var (sample, set) in sets)
        {
            var subject = $"{sample.Fact.About.Key} strength at the lift";
            yield return set is null ? matter.NoLimit(this, subject, "strip.cylinders") : set.Finding(this, matter, subject, drawing, strength, Caution);
        }

        if (matter.Limit(Factor) is not { } factor)
        {
            yield return matter.NoLimit(this, $"{unit} inserts", Factor);
            yield break;
        }

        var lifts = matter.File.Of<UnitStripped>().ToList();
        var plan = drawing.Fact.Lifting;
        if (lifts.Count == 0) yield return Inserts(matter, $"{unit} inserts", drawing, factor, plan.LegsThatCarry, plan.SlingAngleDeg, "by the drawing", [drawing.Id]);
        foreach (var lift in lifts)
            yield return Inserts(matter, $"{unit} inserts", drawing, factor, lift.Fact.LegsThatCarried, lift.Fact.SlingAngleDeg, "as lifted", [drawing.Id, lift.Id]);
    }

    // What the profile asks of the lift itself: how near an edge a lifter stood, how flat the slings were.
    private IEnumerable<Finding> AsLifted(Matter matter, Entry<DrawingApproved> drawing)
    {
        var unit = matter.File.Unit.Key;
        var lifts = matter.File.Of<UnitStripped>().ToList();
        if (matter.Limit(Edge) is not { } edge)
        {
            yield return Evidence.NotAsked(this, matter, $"{unit} lifter to edge", Edge, Source);
        }
        else if (lifts.Count == 0)
        {
            yield return Matter.Finding(this, $"{unit} lifter to edge", Verdict.NotApplicable, "Not lifted yet; measured at the lift.", edge.Source) with { Limit = edge.Printed, LimitConfirmed = edge.ConfirmedBy is not null, Used = [drawing.Id, matter.Profile!.Id] };
        }

        foreach (var lift in lifts.Where(_ => matter.Limit(Edge) is not null))
        {
            yield return lift.Fact.LifterEdgeIn is not { } distance
                ? Matter.Finding(this, $"{unit} lifter to edge", Verdict.Missing, "The distance of the lifter that is nearest an edge was not measured.", matter.Limit(Edge)!.Source) with { Limit = matter.Limit(Edge)!.Printed, Clear = Caution, Used = [lift.Id] }
                : Least(matter, $"{unit} lifter to edge", matter.Limit(Edge)!, distance, "in", "from the nearest edge", lift.Id);
        }

        if (matter.Limit(LeastAngle) is not { } least)
        {
            yield return Evidence.NotAsked(this, matter, $"{unit} sling angle", LeastAngle, Source);
            yield break;
        }

        if (lifts.Count == 0) yield return Least(matter, $"{unit} sling angle", least, drawing.Fact.Lifting.SlingAngleDeg, "degrees", "from the horizontal by the drawing", drawing.Id);
        foreach (var lift in lifts) yield return Least(matter, $"{unit} sling angle", least, lift.Fact.SlingAngleDeg, "degrees", "from the horizontal as lifted", lift.Id);
    }

    private Finding Least(Matter matter, string subject, Limit limit, Reading read, string unit, string how, Guid record)
    {
        var met = read.Value >= limit.Value.Value;
        return matter.Against(this, subject, limit, met, $"{read.Text} {unit} {how}.", $"{read.Text} {unit}") with { Rounding = "compared as read", Clear = met ? "" : Caution, Used = [record, matter.Profile!.Id] };
    }

    private Finding Inserts(Matter matter, string subject, Entry<DrawingApproved> drawing, Limit factor, int legs, Reading angle, string how, Guid[] used)
    {
        var lifting = drawing.Fact.Lifting;
        if (legs < 1 || angle.Value is <= 0 or > 90 || lifting.WeightLb.Value <= 0)
        {
            return Matter.Finding(this, subject, Verdict.Missing, "Weight, legs or sling angle of the lift are not stated.", factor.Source)
                with { Limit = factor.Printed, LimitConfirmed = factor.ConfirmedBy is not null, Clear = Caution, Used = used };
        }

        var leg = Lifting.LegLoadLb(lifting.WeightLb.Value, legs, angle.Value);
        var needed = leg * factor.Value.Value;
        var met = lifting.InsertUltimateLbf.Value >= needed;
        var load = Matter.Text(decimal.Round(leg, 1));
        return matter.Against(this, subject, factor, met,
            $"{load} lb on a leg {how} ({lifting.WeightLb.Text} lb, {legs} legs, {angle.Text} degrees): an insert must carry {Matter.Text(decimal.Round(needed))} lb, it carries {lifting.InsertUltimateLbf.Text} lb.",
            $"{lifting.InsertUltimateLbf.Text} lb for a leg load of {load} lb, {Matter.Text(decimal.Round(lifting.InsertUltimateLbf.Value / leg, 2))} times") with
        {
            Rounding = "compared as calculated",
            Clear = met ? "" : Caution,
            Used = [.. used, matter.Profile!.Id],
        };
    }
}
