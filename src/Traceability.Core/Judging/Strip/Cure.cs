using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Strip;

/// <summary>
/// Rise, peak and cooling of the concrete on every interval of every probe, and its temperature until initial set. Needs:
/// placement, cure temperatures, instrument calibrated. Readings of a probe out of calibration count as missing where they
/// are good and stay where they are not.
/// </summary>
public sealed class Cure : IRequirement
{
    private const string Rise = "cure.ramp", Peak = "cure.peak", Cooling = "cure.cooling", BeforeSet = "cure.before-set";

    private static readonly Citation Source = new("Curing record of the pour", SourceMark.CommonPractice);

    public string Id => "strip.curing";
    public HoldKind Hold => HoldKind.Strip;
    public string Title => "Curing so far";
    public IReadOnlyList<string> Limits => [Rise, Peak, Cooling, BeforeSet];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var pours = matter.File.Placements.Select(p => p.Pour.Fact.About).Distinct().Order().ToList();
        if (pours.Count == 0) yield return Evidence.NoPlacement(this, matter, Source);
        foreach (var pour in pours)
        {
            var probes = matter.File.Of<CureTemperatures>().Where(c => c.Fact.About == pour).GroupBy(c => c.Fact.Probe).OrderBy(g => g.Key, StringComparer.Ordinal).ToList();
            if (probes.Count == 0)
                yield return Evidence.Absent<CureTemperatures>(this, matter, pour.Key, $"No curing temperatures of {pour.Id} are recorded.", "The laboratory reads out the probe.", Source);
            foreach (var finding in probes.SelectMany(p => Probe(matter, $"{pour.Key} {p.Key}", p.Key, [.. p]))) yield return finding;
        }
    }

    private IEnumerable<Finding> Probe(Matter matter, string subject, string probe, IReadOnlyList<Entry<CureTemperatures>> readouts)
    {
        // A probe is read out more than once: all its readings in order of time, with the clock of each readout.
        var readings = readouts.SelectMany(r => r.Fact.Readings.Select(x => (r.Clocked(x.At).At, x.TemperatureF.Value))).OrderBy(x => x.At).ThenBy(x => x.Value).ToList();
        var zero = readings[0].At;
        var curve = readings.Select(x => new CureReading(TestAge.Hours(zero, x.At), x.Value)).ToList();
        var checks = new[] { readings[0].At, readings[^1].At }.Select(at => matter.InCalibration(probe, at)).ToList();
        var doubt = checks.Find(c => !c.Valid)?.Words;
        Guid[] used = [.. readouts.Select(r => r.Id)];

        yield return Against(matter, subject + " rise", Rise, "rise", Curing.FastestRise(curve), "F/h", doubt, used);
        yield return Against(matter, subject + " peak", Peak, "peak", Curing.Peak(curve), "F", doubt, used);
        yield return Against(matter, subject + " cooling", Cooling, "cooling", Curing.FastestCooling(curve), "F/h", doubt, used);
        yield return UntilSet(matter, subject + " before initial set", readouts, curve, zero, doubt, used);
    }

    private Finding Against(Matter matter, string subject, string key, string what, decimal? observed, string unit, string? doubt, Guid[] used)
    {
        if (matter.Limit(key) is not { } limit) return matter.NoLimit(this, subject, key);
        if (observed is not { } value) return Missing(limit, subject, "One reading alone has no interval to judge.", used);
        var met = value <= limit.Value.Value;
        if (met && doubt is not null) return Unusable(limit, subject, doubt, used);
        var text = $"{Matter.Text(decimal.Round(value, 1))} {unit}";
        return matter.Against(this, subject, limit, met, $"{Evidence.Sentence(what)[..^1]} {text}.", text) with
        {
            Rounding = "compared as measured",
            Clear = met ? "" : "The quality engineer decides on the unit and raises a nonconformance.",
            Used = [.. used, matter.Profile!.Id],
        };
    }

    private Finding UntilSet(Matter matter, string subject, IReadOnlyList<Entry<CureTemperatures>> readouts, List<CureReading> curve, DateTimeOffset zero, string? doubt, Guid[] used)
    {
        if (matter.Limit(BeforeSet) is not { } limit) return matter.NoLimit(this, subject, BeforeSet);
        // Two readouts that state different moments of set: the later one asks more.
        var set = readouts.Where(r => r.Fact.InitialSetAt is not null).Select(r => (DateTimeOffset?)r.Clocked(r.Fact.InitialSetAt!.Value).At).Max();
        var until = set is { } at ? Curing.HighestUntil(curve, TestAge.Hours(zero, at)) : Curing.Peak(curve);
        var met = until < limit.Value.Value;
        if (set is null && !met) return Missing(limit, subject, "The moment of initial set is not recorded.", used);
        // A set that came before the first reading leaves no temperature before it to judge by.
        if (until is not { } highest) return Missing(limit, subject, "No temperature was read at or before initial set.", used);
        if (met && doubt is not null) return Unusable(limit, subject, doubt, used);
        var text = $"{Matter.Text(decimal.Round(highest, 1))} F";
        return matter.Against(this, subject, limit, met, $"Highest {text} {(set is null ? "in the whole record" : "until initial set")}.", text) with
        {
            Rounding = "compared as measured",
            Clear = met ? "" : "The quality engineer decides on the unit and raises a nonconformance.",
            Used = [.. used, matter.Profile!.Id],
        };
    }

    private Finding Missing(Limit limit, string subject, string reason, Guid[] used) =>
        Matter.Finding(this, subject, Verdict.Missing, reason, limit.Source)
            with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null, Clear = "The laboratory reads out the probe again or corrects the record.", Used = used };

    private Finding Unusable(Limit limit, string subject, string doubt, Guid[] readouts) =>
        Matter.Finding(this, subject, Verdict.Missing, $"The readings cannot be used: {doubt}.", limit.Source) with
        {
            Limit = limit.Printed,
            LimitConfirmed = limit.ConfirmedBy is not null,
            Clear = "The quality engineer reads in the probe's calibration, or decides on the unit without its record.",
            SetAside = [.. readouts.Select(r => new UnusedEvidence(r, doubt))],
        };
}
