using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Quantities;

namespace Traceability.Core.Judging.Strip;

/// <summary>
/// Strength from the unit's temperatures by the relation of its mix, where the profile permits it: a relation in force, as
/// many verification tests as asked and every one inside its share, and a probe in calibration in every pour. ASTM C1074. The
/// coldest probe speaks.
/// </summary>
internal static class VerifiedMaturity
{
    private const string Verifications = "strip.maturity.verifications";

    public static readonly IReadOnlyList<string> Limits = [Verifications];

    /// <summary>The finding about the unit's maturity; null where the profile does not permit it or no relation of the mix is recorded.</summary>
    public static Finding? Judge(IRequirement requirement, Matter matter, Entry<DrawingApproved> drawing, Reading requiredPsi)
    {
        var file = matter.File;
        if (matter.Limit(Verifications) is not { } limit || file.Of<MaturityRelated>().LastOrDefault(m => m.Fact.Mix == file.Scheduled?.Fact.Mix) is not { } related) return null;
        var subject = $"{file.Unit.Key} maturity";
        var stripped = file.Of<UnitStripped>().FirstOrDefault();
        Finding Say(Verdict verdict, string reason, string observed, params Guid[] used) => Matter.Finding(requirement, subject, verdict, reason, limit.Source) with
        {
            Limit = $"at least {requiredPsi.Text} psi; {limit.Printed}",
            LimitConfirmed = limit.ConfirmedBy is not null,
            Observed = observed,
            Rounding = matter.StepText("strength", Strength.ReportStepPsi, "psi"),
            Clear = verdict is Verdict.Met or Verdict.NotApplicable ? "" : "The laboratory breaks the strip set, or waits and reads the probe out again. Nobody lifts before.",
            Used = [drawing.Id, related.Id, matter.Profile!.Id, .. used],
        };

        Finding Unusable(string why, params Guid[] used) => Say(Verdict.NotApplicable, $"Maturity cannot stand for cylinders: {why}.", "", used);
        var day = stripped is null ? Evidence.PourDay(file) : Matter.DayOf(stripped.At.At);
        if (day is not { } on || related.Fact.ValidThrough < on) return Unusable($"the relation runs through {related.Fact.ValidThrough:yyyy-MM-dd}");
        if (related.Fact.Tests.Any(t => t.TemperatureTimeFHours.Value <= 0)
            || StrengthMaturity.Fit([.. related.Fact.Tests.Select(t => (t.TemperatureTimeFHours.Value, t.StrengthPsi.Value))]) is not { } relation) return Unusable("its tests make no relation of growing strength");
        var checks = related.Fact.Verifications.Select(v => relation.Verifies(v.TemperatureTimeFHours.Value, v.StrengthPsi.Value)).ToList();
        if (checks.Contains(false)) return Unusable($"a verification test is more than {Matter.Text(StrengthMaturity.VerifiedWithinPct)} % off the relation");
        if (checks.Count(c => c == true) < limit.Value.Value) return Unusable($"{checks.Count(c => c == true)} verification tests, {limit.Value.Text} asked");

        var coldest = (Psi: (decimal?)decimal.MaxValue, Maturity: 0m, Used: (IReadOnlyList<Guid>)[]);
        var pours = file.Placements.Select(p => p.Pour.Fact.About).Distinct().Order().ToList();
        foreach (var pour in pours)
        {
            var probes = file.Of<CureTemperatures>().Where(c => c.Fact.About == pour).GroupBy(c => c.Fact.Probe).ToList();
            if (probes.Count == 0) return Unusable($"no temperatures of {pour.Id} are recorded");
            foreach (var probe in probes)
            {
                var readings = probe.SelectMany(r => r.Fact.Readings.Select(x => (r.Clocked(x.At).At, x.TemperatureF.Value)))
                    .Where(x => stripped is null || x.At <= stripped.At.At).OrderBy(x => x.At).ThenBy(x => x.Value).ToList();
                if (readings.Count < 2) return Unusable($"probe {probe.Key} has no interval before the strip");
                if (matter.InCalibration(probe.Key, readings[0].At) is { Valid: false } doubt) return Unusable(doubt.Words);
                var maturity = Maturity.TemperatureTime([.. readings.Select(x => new CureReading(TestAge.Hours(readings[0].At, x.At), x.Value))], Maturity.Celsius(related.Fact.DatumF.Value)) * 9 / 5;
                if (coldest.Used.Count == 0 || maturity < coldest.Maturity) coldest = (relation.PsiAt(maturity), maturity, [.. probe.Select(p => p.Id)]);
            }
        }

        if (coldest.Used.Count == 0) return Unusable("no concrete is recorded in the unit");
        if (coldest.Psi is not { } strength) return Unusable($"{Matter.Text(decimal.Round(coldest.Maturity))} F h lie outside the maturities tested", [.. coldest.Used]);
        var psi = Rounding.RoundTo(strength, Strength.ReportStepPsi, matter.Rounding);
        var met = psi >= requiredPsi.Value;
        return Say(met ? Verdict.Met : stripped is null ? Verdict.Pending : Verdict.NotApplicable,
            $"{Matter.Text(decimal.Round(coldest.Maturity))} F h at the coldest probe are {Matter.Text(psi)} psi by the verified relation, {requiredPsi.Text} psi required.{(met || stripped is null ? "" : " The cylinders speak.")}",
            $"{Matter.Text(psi)} psi at {Matter.Text(decimal.Round(coldest.Maturity))} F h", [.. coldest.Used]);
    }
}
