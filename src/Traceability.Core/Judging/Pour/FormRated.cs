using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Pour;

/// <summary>
/// The form is rated for the concrete that goes into it: for the full fluid head, or for a pressure that a self-consolidating
/// mix does not reach. Needs: pre-pour inspection, form inspected, drawing, mix. Asked only where the profile states a chemistry
/// coefficient. For other concrete the rate decides, which is judged as placed. A check of the plant's own: the form's engineer
/// and local codes decide, and nobody stands where a form could give way.
/// </summary>
public sealed class FormRated : IRequirement
{
    internal const string Chemistry = "form.pressure.chemistry";

    internal static readonly Citation Source = new("ACI 347R", SourceMark.Memory, "347R-14", "lateral pressure of concrete");

    public string Id => "pour.form-rated";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Form rated for the pressure";
    public IReadOnlyList<string> Limits => [Chemistry];
    public bool PlantOnly => true;

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (matter.Limit(Chemistry) is null) return [Evidence.NotAsked(this, matter, unit, Chemistry, Source)];
        if (matter.File.Last<PrePourInspected>() is not { } inspection) return [Evidence.NoPrePour(this, matter)];
        if (matter.File.Mix is not { } mix)
            return [Matter.Finding(this, unit, Verdict.Missing, "The approval of the unit's mix is not recorded.", Source) with { Clear = "The quality engineer records the approval.", Used = [inspection.Id], SetAside = matter.Unused<MixApproved>() }];
        if (mix.Fact.DryCast == true) return [Matter.Finding(this, unit, Verdict.NotApplicable, "Dry-cast concrete has no fluid pressure.", Source) with { Used = [mix.Id] }];
        if (Rating(matter, inspection.Fact.Form, inspection.At) is not { } rating) return [NoRating(this, matter, inspection.Fact.Form, inspection.Id)];
        Guid[] used = [inspection.Id, mix.Id, rating.Id, matter.Profile!.Id];
        if (rating.Fact.FullHead) return [Matter.Finding(this, unit, Verdict.Met, $"Form {rating.Fact.Form} is rated for the full head.", Source) with { Used = used }];
        if (rating.Fact.RatedPressurePsf is not { } rated) return [NoRating(this, matter, inspection.Fact.Form, inspection.Id)];
        if (mix.Fact.TargetFlowIn is null)
            return [Matter.Finding(this, unit, Verdict.Provisional, $"Form {rating.Fact.Form} is rated for {rated.Text} psf; the rate of placing decides.", Source) with { Observed = rated.Text + " psf", Clear = "The pour crew keeps to the rate; it is judged as placed.", Used = used }];
        if (HeightFt(matter) is not { } height) return [NoHeight(this, matter, used)];

        var head = FormPressure.FullHeadPsf(mix.Fact.DensityLbFt3?.Value ?? PieceWeight.ShopLbFt3, height);
        var met = rated.Value >= head;
        return
        [
            Matter.Finding(this, unit, met ? Verdict.Met : Verdict.NotMet, $"Form {rating.Fact.Form} is rated for {rated.Text} psf; the full head of {Matter.Text(decimal.Round(height, 2))} ft of self-consolidating concrete is {Matter.Text(decimal.Round(head))} psf.", Source) with
            {
                Limit = $"at least {Matter.Text(decimal.Round(head))} psf",
                LimitConfirmed = true,
                Observed = rated.Text + " psf",
                Clear = met ? "" : "Do not pour. The form's engineer decides; another form or other concrete is used.",
                Used = used,
            },
        ];
    }

    /// <summary>The last inspection of a form's set-up before a moment; null when there is none.</summary>
    internal static Entry<FormInspected>? Rating(Matter matter, string form, Moment before) =>
        matter.File.Of<FormInspected>().LastOrDefault(i => i.Fact.Form == form && i.At.Compare(before) == TimeOrder.Before);

    /// <summary>Height of the unit, feet: the length of the drawing whose name says height; the greatest of several. Null when none does.</summary>
    internal static decimal? HeightFt(Matter matter) =>
        matter.File.Drawing?.Fact.Dimensions.Where(d => d.Kind == DimensionKind.Length && d.Name.Contains("height", StringComparison.OrdinalIgnoreCase)).Select(d => (decimal?)d.SpecifiedIn.Value / 12).Max();

    internal static Finding NoRating(IRequirement requirement, Matter matter, string form, Guid used) =>
        Matter.Finding(requirement, matter.File.Unit.Key, Verdict.Missing, $"No rating of form {form} is recorded: neither full head nor a pressure.", Source)
            with { Clear = "The plant inspector records the form's rating.", Used = [used], SetAside = matter.Unused<FormInspected>() };

    internal static Finding NoHeight(IRequirement requirement, Matter matter, Guid[] used) =>
        Matter.Finding(requirement, matter.File.Unit.Key, Verdict.Missing, "The drawing's record has no length with height in its name, so the head is not known.", Source)
            with { Clear = "The quality engineer completes the record of the drawing.", Used = used };
}
