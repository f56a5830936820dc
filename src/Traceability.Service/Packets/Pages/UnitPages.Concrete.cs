using PdfSharp.Drawing;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Packets.Pages;

internal sealed partial class UnitPages
{
    private void Batches()
    {
        var placements = File.Placements.ToList();
        paper.Heading("Placement: which batch went into the unit, and the sample that represents it");
        paper.Table([new("Pour, lift", 0.2), new("Placed", 0.22), new("Batch (plant / ticket)", 0.2), new("Volume", 0.12, true), new("Sample that represents it", 0.18), new("Record", 0.08)],
            [.. placements.Select(p => new Cell[]
            {
                $"{p.Pour.Fact.Pour}, lift {Figures.Count(p.Row.Lift)}", $"{Figures.Time(p.Pour.Fact.StartedAt)} to {Figures.Clock(p.Pour.Fact.FinishedAt)}", Words.Of(p.Row.Batch),
                new(Figures.CubicYard(p.Row.VolumeYd3), Face.Regular, Figures.CubicMetre(p.Row.VolumeYd3)), Represents(p.Row.Batch), Line(p.Pour),
            })]);
        foreach (var batch in File.Batches)
        {
            var fact = batch.Fact;
            paper.Heading($"Batch ticket {Words.Of(fact.Batch)} of {Figures.Day(fact.Batch.Date)}, record {Line(batch)}");
            paper.Pairs(
            [
                ("Mix", fact.Mix), ("Volume", $"{Figures.CubicYard(fact.VolumeYd3)} ({Figures.CubicMetre(fact.VolumeYd3)})"),
                ("Water met cement", Figures.Time(fact.ChargedAt)), ("Batched by", packet.Person(batch.Person)),
                ("Water, target / batched", $"{fact.WaterTargetLb.Text} / {Figures.Pound(fact.WaterBatchedLb)} ({Figures.Kilogram(fact.WaterBatchedLb)})"),
                ("Water added later", fact.WaterAddedLaterLb is { } added ? $"{Figures.Pound(added)} ({Figures.Kilogram(added)})" : "none"),
                ("Moisture figures from", Words.Of(fact.MoistureBasis)), ("Scales, meters", Join(fact.Instruments ?? [])),
            ]);
            paper.Table([new("Material", 0.2), new("Name", 0.22), new("Target", 0.13, true), new("Batched", 0.13, true), new("Off target", 0.1, true), new("Moisture / absorption", 0.16, true), new("Lot", 0.22)],
                [.. fact.Ingredients.Select(i => new Cell[]
                {
                    Words.Of(i.Material), i.Name, Figures.Pound(i.TargetLb), new(Figures.Pound(i.BatchedLb), Face.Regular, Figures.Kilogram(i.BatchedLb)),
                    i.TargetLb.Value == 0 ? "no target" : Signed(decimal.Round((i.BatchedLb.Value - i.TargetLb.Value) * 100m / i.TargetLb.Value, 1)) + " %",
                    i.MoisturePct is { } m ? $"{m.Text} / {i.AbsorptionPct?.Text ?? "not given"} %" : "not given", i.Lot is null ? "not named" : Words.Of(i.Lot),
                })]);
        }
    }

    private static string Signed(decimal value) => (value > 0 ? "+" : "") + Figures.Plain(value);

    private string Represents(BatchId batch)
    {
        var own = File.Samples.Where(s => s.Fact.Batch == batch).Select(s => s.Fact.Sample).ToList();
        if (own.Count > 0) return string.Join(", ", own) + ", taken from it";
        var others = File.Samples.Select(s => s.Fact.Sample).ToList();
        return others.Count > 0 ? "none of its own; " + string.Join(", ", others) + " of this unit" : "NONE";
    }

    private void FreshTests()
    {
        foreach (var sample in File.Samples)
        {
            var fact = sample.Fact;
            paper.Heading($"Sample {fact.Sample} from batch {Words.Of(fact.Batch)}, record {Line(sample)}");
            paper.Pairs(
            [
                ("Sampled", Figures.Time(fact.SampledAt)), ("Technician", packet.Person(sample.Person)),
                ("Temperature", $"{Figures.Fahrenheit(fact.TemperatureF.Value)} ({Figures.Celsius(fact.TemperatureF.Value)})"),
                ("Slump flow, two diameters", fact.FlowIn is { } flow ? string.Join(" and ", flow.Select(Figures.Inch)) + $" ({string.Join(" and ", flow.Select(Figures.Millimetre))})" : "not taken"),
                ("Slump", fact.SlumpIn is { } slump ? $"{Figures.Inch(slump)} ({Figures.Millimetre(slump)})" : "not taken"),
                ("Air, gauge", fact.AirGaugePct is { } gauge ? Figures.Percent(gauge) : "not taken"), ("Aggregate correction", fact.AggregateCorrectionPct is { } correction ? Figures.Percent(correction) : "not taken"),
                ("Air, corrected", fact is { AirGaugePct: { } read, AggregateCorrectionPct: { } less } ? Figures.Percent(read.Value - less.Value) : "not taken"), ("Visual stability index", fact.StabilityIndex is { } index ? Figures.Count(index) : "not taken"),
                ("Density", fact.DensityLbFt3 is { } d ? $"{Figures.Density(d)} ({Figures.DensityMetric(d)})" : "not taken"), ("Cylinders moulded", $"{Figures.Time(fact.MouldedAt)}, {Words.Many(fact.Cylinders.Count, "cylinder")}"),
                ("Instruments", Join(fact.Instruments)), ("Batch charged", File.Batches.FirstOrDefault(b => b.Fact.Batch == fact.Batch) is { } b ? Figures.Time(b.Fact.ChargedAt) : "not recorded"),
            ]);
        }
    }

    private void Strength()
    {
        paper.Notice("Caution", Caution, 7.4);
        foreach (var sample in File.Samples)
        {
            foreach (var set in sample.Fact.Cylinders.GroupBy(c => (c.Purpose, c.Curing)).OrderBy(g => g.Key.Purpose))
            {
                paper.Heading($"Set for {Words.Of(set.Key.Purpose)}, sample {sample.Fact.Sample}, cured: {Words.Of(set.Key.Curing)}");
                paper.Table(
                    [new("Cylinder", 0.13), new("Tested, age", 0.19), new("Diameters", 0.14), new("Length", 0.1), new("Load", 0.13, true), new("Strength", 0.12, true), new("Fracture, cap", 0.15), new("Machine, technician", 0.17), new("Record", 0.08)],
                    [.. set.SelectMany(c => CylinderRows(sample.Fact, c)), .. Mean(sample.Fact, set)]);
            }
        }

        paper.Paragraph($"Strength is load over the area of the mean of the two diameters, with the factor for its length, to {Figures.Psi(Core.Concrete.Strength.ReportStepPsi)} by the rounding on page 1. A mean is of the cylinders that count; the findings say why others do not.", 7.2);
    }

    private IEnumerable<Cell[]> CylinderRows(SampleTested sample, CylinderCast cylinder)
    {
        var broken = File.Of<CylinderBroken>().Where(b => b.Fact.Sample == sample.Sample && b.Fact.Cylinder == cylinder.Cylinder).ToList();
        if (broken.Count == 0)
            yield return [new(cylinder.Cylinder, Face.Bold, cylinder.Size + " in"), "not tested on record", None, None, None, None, None, None, None];
        foreach (var b in broken)
        {
            yield return
            [
                new(cylinder.Cylinder, Face.Bold, cylinder.Size + " in"),
                new(Figures.Time(b.At.At), Face.Regular, "age " + Age(b.At.At - sample.MouldedAt) + (Counts(b.Id, cylinder.Purpose) ? "" : "; not counted")),
                new($"{b.Fact.Diameter1In.Text}, {Figures.Inch(b.Fact.Diameter2In)}", Face.Regular, $"{Figures.Millimetre(b.Fact.Diameter1In)}, {Figures.Millimetre(b.Fact.Diameter2In)}"),
                new(Figures.Inch(b.Fact.LengthIn), Face.Regular, Figures.Millimetre(b.Fact.LengthIn)),
                new(Figures.PoundForce(b.Fact.LoadLbf), Face.Regular, Figures.Kilonewton(b.Fact.LoadLbf)),
                StrengthPsi(b.Fact) is { } psi ? new Cell(Figures.Psi(psi), Face.Bold, Figures.Megapascal(psi) + Apart(b.Fact)) : Cell.Strong("none: shorter than its diameter"),
                new($"type {Figures.Count(b.Fact.FractureType)}", Face.Regular, b.Fact.Cap + (b.Fact.Remarks is { } r ? "; " + r : "")),
                new(b.Fact.Machine, Face.Regular, packet.Person(b.Person)),
                Line(b),
            ];
        }
    }

    private decimal? StrengthPsi(CylinderBroken b) =>
        Core.Concrete.Strength.Psi(b.LoadLbf.Value, b.Diameter1In.Value, b.Diameter2In.Value, b.LengthIn.Value, Matter().Rounding);

    // A break whose diameters are too far apart stays visible with its strength; the findings set it aside.
    private string Apart(CylinderBroken b) =>
        Matter().Limit("cylinder.diameter-difference") is { } limit && Core.Concrete.Strength.DiameterDifferencePct(b.Diameter1In.Value, b.Diameter2In.Value) is var apart && apart > limit.Value.Value
            ? $"; diameters {Figures.Round(apart, 2)} % apart"
            : "";

    /// <summary>The mean of the breaks that the finding counted, so that no page states another mean than the finding.</summary>
    private IEnumerable<Cell[]> Mean(SampleTested sample, IEnumerable<CylinderCast> set)
    {
        var marks = set.Select(c => c.Cylinder).ToHashSet(StringComparer.Ordinal);
        var strengths = File.Of<CylinderBroken>().Where(b => b.Fact.Sample == sample.Sample && marks.Contains(b.Fact.Cylinder) && Counts(b.Id, set.First().Purpose))
            .Select(b => StrengthPsi(b.Fact)).OfType<decimal>().ToList();
        if (strengths.Count < 2) yield break;
        var mean = Core.Concrete.Strength.MeanPsi(strengths, Matter().Rounding);
        yield return
        [
            Cell.Strong("Mean"), $"of {Figures.Count(strengths.Count)} that count", None, None, None, new(Figures.Psi(mean), Face.Bold, Figures.Megapascal(mean)),
            $"range {Figures.Round(Core.Concrete.Strength.RangePct(strengths), 1)} %", None, None,
        ];
    }

    private bool Counts(Guid broken, CylinderPurpose purpose)
    {
        var requirement = purpose switch { CylinderPurpose.Strip => "strip.strength", CylinderPurpose.Ship => "ship.strength", _ => null };
        return requirement is null || unit.Judgement.Findings.Any(f => f.Requirement == requirement && f.Used.Contains(broken));
    }

    private static readonly Cell None = "–";

    private static string Age(TimeSpan age) =>
        age < TimeSpan.FromDays(3) ? Figures.Round((decimal)age.TotalHours, 1) + " h" : Figures.Round((decimal)age.TotalDays, 1) + " days";

    private void Curing()
    {
        // A probe is read out more than once; its readings belong together.
        foreach (var probe in File.Of<CureTemperatures>().GroupBy(c => (c.Fact.Pour, c.Fact.Probe)))
        {
            var readings = probe.SelectMany(c => c.Fact.Readings).OrderBy(r => r.At).ToList();
            var set = probe.Max(c => c.Fact.InitialSetAt);
            paper.Heading($"Pour {probe.Key.Pour}, probe {probe.Key.Probe}, {(probe.Count() == 1 ? "record" : "records")} {string.Join(" ", probe.Select(Line))}");
            CureChart(readings, set);
            var summary = CureSummary.Of(readings);
            paper.Table([new("Readings", 0.3), new("Highest", 0.2), new("Lowest", 0.2), new("Fastest rise between two readings", 0.25), new("Fastest fall between two readings", 0.25), new("Initial set", 0.2)],
                [[
                    new($"{Figures.Count(readings.Count)}, {Figures.Time(readings[0].At)} to {Figures.Time(readings[^1].At)}", Face.Regular, $"widest gap {Figures.Round((decimal)summary.WidestGap.TotalMinutes, 0)} min"),
                    new(Figures.Fahrenheit(summary.Highest.TemperatureF.Value), Face.Regular, $"{Figures.Celsius(summary.Highest.TemperatureF.Value)}, {Figures.Time(summary.Highest.At)}"),
                    new(Figures.Fahrenheit(summary.Lowest.TemperatureF.Value), Face.Regular, $"{Figures.Celsius(summary.Lowest.TemperatureF.Value)}, {Figures.Time(summary.Lowest.At)}"),
                    Rate(summary.Rise), Rate(summary.Fall),
                    set is { } at ? Figures.Time(at) : "not recorded",
                ]]);
        }
    }

    private static Cell Rate((decimal PerHour, DateTimeOffset At)? rate) => rate is { } r
        ? new Cell(Figures.FahrenheitPerHour(r.PerHour), Face.Regular, $"{Figures.CelsiusPerHour(r.PerHour)}, from {Figures.Time(r.At)}")
        : "none";

    /// <summary>The readings as points joined by straight lines, the axis from a whole ten below to a whole ten above.</summary>
    private void CureChart(IReadOnlyList<TemperatureReading> readings, DateTimeOffset? set)
    {
        const double height = 150, left = 40, foot = 26, head = 14;
        var low = (double)Math.Floor(readings.Min(r => r.TemperatureF.Value) / 10m) * 10;
        var high = (double)Math.Ceiling(readings.Max(r => r.TemperatureF.Value) / 10m) * 10;
        if (high <= low) high = low + 10;
        var from = readings[0].At;
        var hours = Math.Max(1, Math.Ceiling((readings[^1].At - from).TotalHours));
        var step = HourStep(hours);
        paper.Drawing(height, string.Join(' ', readings.Select(r => $"{Figures.Exact(r.At)} {r.TemperatureF.Text}")), (g, x, y, width) =>
        {
            var font = paper.Fonts.Font(Face.Regular, 6.4);
            var (gx, gy, gw, gh) = (x + left, y + head, width - left - 12, height - foot - head);
            double At(DateTimeOffset t) => gx + (t - from).TotalHours / hours * gw;
            double Up(double f) => gy + gh - (f - low) / (high - low) * gh;
            var grid = new XPen(XColor.FromGrayScale(0.75), 0.35);
            for (var f = low; f <= high + 0.1; f += high - low > 80 ? 20 : 10)
            {
                g.DrawLine(grid, gx, Up(f), gx + gw, Up(f));
                var label = Figures.Plain((decimal)f);
                g.DrawString(label, font, XBrushes.Black, gx - 4 - paper.Fonts.Width(label, Face.Regular, 6.4), Up(f) + 2.2);
            }

            for (var h = 0.0; h <= hours + 0.01; h += step)
            {
                g.DrawLine(grid, gx + h / hours * gw, gy, gx + h / hours * gw, gy + gh);
                var label = Figures.Plain((decimal)h);
                g.DrawString(label, font, XBrushes.Black, gx + h / hours * gw - paper.Fonts.Width(label, Face.Regular, 6.4) / 2, gy + gh + 9);
            }

            g.DrawRectangle(new XPen(XColors.Black, 0.6), gx, gy, gw, gh);
            g.DrawString("Concrete temperature, °F", font, XBrushes.Black, x, y + 8);
            g.DrawString($"Hours after {Figures.Time(from)}", font, XBrushes.Black, gx, gy + gh + 19);
            var points = readings.Select(r => new XPoint(At(r.At), Up((double)r.TemperatureF.Value))).ToArray();
            if (points.Length > 1) g.DrawLines(new XPen(XColors.Black, 0.9), points);
            foreach (var p in points) g.DrawEllipse(XBrushes.Black, p.X - 1, p.Y - 1, 2, 2);
            if (set is not { } s || s < from || At(s) > gx + gw) return;
            g.DrawLine(new XPen(XColors.Black, 0.6) { DashStyle = XDashStyle.Dash }, At(s), gy, At(s), gy + gh);
            g.DrawString("initial set", font, XBrushes.Black, At(s) + 2, gy + 8);
        });
    }

    private static double HourStep(double hours) => hours <= 12 ? 1 : hours <= 26 ? 2 : hours <= 60 ? 6 : hours <= 150 ? 12 : 24;
}
