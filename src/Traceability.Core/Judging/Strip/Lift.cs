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
    private const string Factor = "lifting.insert-factor";
    private const string Caution = "Do not lift. The quality engineer asks the licensed engineer; local codes decide.";

    private static readonly Citation Source = new("29 CFR 1926", SourceMark.Published, Clause: "1926.704(c)");

    public string Id => "strip.lifting";
    public HoldKind Hold => HoldKind.Strip;
    public string Title => "Lifting out of the form";
    public IReadOnlyList<string> Limits => [Factor, .. CylinderSet.Limits];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Source);
            yield break;
        }

        var strength = drawing.Fact.Lifting.StrengthRequiredPsi;
        var sets = StripStrength.Sets(matter, strength.Value).ToList();
        if (sets.Count == 0)
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
