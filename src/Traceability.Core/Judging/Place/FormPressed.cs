using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging.Pour;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// The pressure of the concrete as placed stayed inside the form's rating. Needs: placement, pre-pour inspection, form
/// inspected, drawing, sample, mix. The rate is the height over the time of the pour; where one pour filled several units the
/// record does not say how fast each rose, and the full head is taken. Asked only where the profile states a chemistry
/// coefficient. A check of the plant's own: the form's engineer and local codes decide.
/// </summary>
public sealed class FormPressed : IRequirement
{
    public string Id => "place.form-pressure";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Pressure on the form";
    public IReadOnlyList<string> Limits => [FormRated.Chemistry];
    public bool PlantOnly => true;

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(FormRated.Chemistry) is not { } chemistry) return [Evidence.NotAsked(this, matter, unit, FormRated.Chemistry, FormRated.Source)];
        var pours = matter.File.Placements.ToList();
        if (pours.Count == 0) return [Evidence.NoPlacement(this, matter, FormRated.Source)];
        if (matter.File.Last<PrePourInspected>() is not { } inspection) return [Evidence.NoPrePour(this, matter)];
        if (matter.File.Mix is { Fact.DryCast: true } dry) return [Matter.Finding(this, unit, Verdict.NotApplicable, "Dry-cast concrete has no fluid pressure.", FormRated.Source) with { Used = [dry.Id] }];
        if (FormRated.Rating(matter, inspection.Fact.Form, inspection.At) is not { } rating) return [FormRated.NoRating(this, matter, inspection.Fact.Form, inspection.Id)];
        if (rating.Fact.FullHead) return [Matter.Finding(this, unit, Verdict.Met, $"Form {rating.Fact.Form} is rated for the full head.", FormRated.Source) with { Used = [inspection.Id, rating.Id, matter.Profile!.Id] }];
        if (rating.Fact.RatedPressurePsf is not { } rated) return [FormRated.NoRating(this, matter, inspection.Fact.Form, inspection.Id)];
        if (FormRated.HeightFt(matter) is not { } height) return [FormRated.NoHeight(this, matter, [inspection.Id, rating.Id])];
        var coldest = matter.File.Samples.OrderBy(s => s.Fact.TemperatureF.Value).FirstOrDefault();
        if (coldest is null || coldest.Fact.TemperatureF.Value <= 0)
            return [Evidence.Absent<SampleTested>(this, matter, unit, "No temperature of the concrete in this unit is recorded.", "The laboratory records the sample.", FormRated.Source) with { Used = [inspection.Id, rating.Id] }];

        var weight = matter.File.Samples.Select(s => s.Fact.DensityLbFt3?.Value).Max() ?? PieceWeight.ShopLbFt3;
        var all = pours.Sum(p => p.Row.VolumeYd3.Value);
        var fluid = matter.File.Mix is not { Fact.TargetFlowIn: null } || matter.File.Samples.Any(s => s.Fact.SlumpIn?.Value > FormPressure.LargestSlumpIn);
        return pours.GroupBy(p => p.Pour.Id).Select(g =>
        {
            var pour = g.First().Pour;
            var rise = all > 0 ? height * g.Sum(p => p.Row.VolumeYd3.Value) / all : height;
            var hours = (decimal)(pour.Fact.FinishedAt - pour.Fact.StartedAt).Ticks / TimeSpan.TicksPerHour;
            var alone = pour.Fact.Rows.All(r => Records.Subject.Unit(r.Unit) == matter.File.Unit);
            var head = FormPressure.FullHeadPsf(weight, rise);
            var pressure = fluid || !alone || hours <= 0 ? head : FormPressure.Psf(FormMember.Wall, rise, rise / hours, coldest.Fact.TemperatureF.Value, weight, chemistry.Value.Value);
            var met = pressure <= rated.Value;
            return matter.Against(this, $"{unit} {pour.Fact.About.Key}", chemistry, met,
                $"{Matter.Text(decimal.Round(rise, 2))} ft in {Matter.Text(decimal.Round(hours, 2))} h at {coldest.Fact.TemperatureF.Text} F: {Matter.Text(decimal.Round(pressure))} psf{(pressure == head ? ", the full head" : "")}; form {rating.Fact.Form} is rated for {rated.Text} psf.", $"{Matter.Text(decimal.Round(pressure))} psf") with
            {
                Limit = $"at most {rated.Text} psf; {chemistry.Printed}",
                Rounding = "compared as calculated",
                Clear = met ? "" : "Keep people away from the form. The form's engineer looks at it before it is used again; the inspector measures the unit.",
                Used = [pour.Id, inspection.Id, rating.Id, coldest.Id, matter.Profile!.Id],
            };
        });
    }
}
