using PdfSharp.Drawing;
using Traceability.Core.Dossiers;
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
                $"{p.Pour.Fact.Pour}, lift {Figures.Count(p.Row.Lift)}{(p.Row.Part is { } part ? ", " + part : "")}", $"{Figures.Time(p.Pour.Fact.StartedAt)} to {Figures.Clock(p.Pour.Fact.FinishedAt)}", Words.Of(p.Row.Batch),
                new(Figures.CubicYard(p.Row.VolumeYd3), Face.Regular, Figures.CubicMetre(p.Row.VolumeYd3)), Represents(p.Row.Batch), Line(p.Pour),
            })]);
        SamplingLots();
        AtThePour();
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

    /// <summary>The sample that stands for a batch: its own, else that of a sampling lot the unit belongs to.</summary>
    private string Represents(BatchId batch)
    {
        var own = File.Samples.Where(s => s.Fact.Batch == batch).Select(s => s.Fact.Sample).ToList();
        if (own.Count > 0) return string.Join(", ", own) + ", taken from it";
        var byLot = File.RepresentingSamples.Where(s => s.Fact.SamplingLot is not null).Select(s => $"{s.Fact.Sample} of sampling lot {s.Fact.SamplingLot}").ToList();
        if (byLot.Count > 0) return string.Join(", ", byLot);
        var others = File.Samples.Select(s => s.Fact.Sample).ToList();
        return others.Count > 0 ? "none of its own; " + string.Join(", ", others) + " of this unit" : "NONE";
    }

    private void SamplingLots()
    {
        var lots = File.Of<SamplingLotDefined>().Where(l => Names(l.Fact.Units)).ToList();
        if (lots.Count == 0) return;
        paper.Heading("Sampling lots this unit belongs to");
        paper.Table([new("Lot", 0.14), new("Made up by", 0.16), new("Units", 0.26), new("Drawn", 0.22), new("Samples", 0.14), new("Record", 0.08)],
            [.. lots.Select(l =>
            {
                var here = l.Fact.Units.Where(u => packet.Units.Any(p => p.Id == u)).ToList();
                var samples = File.Of<SampleTested>().Where(s => s.Fact.SamplingLot == l.Fact.SamplingLot).Select(s => s.Fact.Sample).ToList();
                var drawn = File.Of<RandomNumberDrawn>().LastOrDefault(r => r.Fact.SamplingLot == l.Fact.SamplingLot)?.Fact;
                return new Cell[]
                {
                    Cell.Strong(l.Fact.SamplingLot), new(Words.Of(l.Fact.Basis) + (l.Fact.VolumeYd3 is { } v ? ", " + Figures.CubicYard(v) : ""), Face.Regular, l.Fact.Day is { } day ? Figures.Day(day) : null),
                    string.Join(", ", here) + (l.Fact.Units.Count > here.Count ? $" and {Words.Many(l.Fact.Units.Count - here.Count, "unit")} not in this packet" : ""),
                    drawn is not null ? new Cell($"number {drawn.Number}: {drawn.PointsTo}", Face.Regular, drawn.Method) : l.Fact.DrawnAtRandom ? "at random; no number recorded" : "not at random",
                    samples.Count > 0 ? string.Join(", ", samples) : l.Fact.SkippedByPermission is { } letter ? $"left out by permission: {letter}" : Cell.Strong("NONE"), Line(l),
                };
            })]);
    }

    /// <summary>What was done with the loads and seen at the form.</summary>
    private void AtThePour()
    {
        var batches = File.BatchSubjects;
        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries)
        {
            var what = entry.Fact switch
            {
                WaterAdded f when batches.Contains(f.About) => $"batch {Words.Of(f.Batch)}: {Figures.Pound(f.WaterLb)} ({Figures.Kilogram(f.WaterLb)}) of water added: {f.Reason}",
                LoadAccepted f when batches.Contains(f.About) => $"batch {Words.Of(f.Batch)}: load accepted{(f.Remarks is { } r ? "; " + r : "")}",
                LoadRejected f when batches.Contains(f.About) => $"batch {Words.Of(f.Batch)}: LOAD REJECTED, {f.Reason}{(f.Disposal is { } d ? $"; the rest: {d}" : "")}",
                AgencySampleTaken f when batches.Contains(f.About) => $"batch {Words.Of(f.Batch)}: the agency took {f.Taken}, its sample {f.AgencySample}",
                DisplacementSeen f when Own(f.About) => $"{Words.Of(f.What)} seen to have moved{(f.MovedIn is { } m ? $" {Figures.Inch(m)} ({Figures.Millimetre(m)})" : "")}, {(f.PutBack ? "put back" : "NOT PUT BACK")}: {f.Remarks}",
                PourChecked f when Own(f.About) => $"checked while fresh: inserts {(f.InsertsInPlace ? "in place" : "NOT IN PLACE")}, finish {(f.FinishAsDrawn ? "as drawn" : "NOT AS DRAWN")}{(f.Remarks is { } r ? "; " + r : "")}",
                WeatherRead f when Names(f.Units) => $"weather: air {Figures.Fahrenheit(f.AirF.Value)} ({Figures.Celsius(f.AirF.Value)}){(f.HumidityPct is { } h ? $", humidity {Figures.Percent(h)}" : "")}{(f.WindMph is { } w ? $", wind {w.Text} mph" : "")}{(f.RainedIn ? "; RAIN FELL INTO THE OPEN FORM" : "")}",
                _ => null,
            };
            if (what is not null) rows.Add([new(Figures.Time(entry.At.At), Face.Regular, packet.Person(entry.Person)), what, Line(entry.Source.Id)]);
        }

        if (rows.Count == 0) return;
        paper.Heading("Loads and what was seen at the pour");
        paper.Table([new("When, by whom", 0.24), new("What", 0.66), new("Record", 0.1)], rows);
    }

    private void FreshTests()
    {
        if (File.Mix?.Fact.DryCast == true) paper.Paragraph("The mix is dry-cast: it is stripped at once and has neither slump nor flow.");
        foreach (var sample in File.RepresentingSamples)
        {
            var fact = sample.Fact;
            paper.Heading($"Sample {fact.Sample} from batch {Words.Of(fact.Batch)}, record {Line(sample)}");
            List<(string, string)> pairs =
            [
                ("Sampled", Figures.Time(fact.SampledAt)), ("Technician", packet.Person(sample.Person)),
                ("Batch charged", File.Of<BatchTicketed>().FirstOrDefault(b => b.Fact.Batch == fact.Batch) is { } b ? Figures.Time(b.Fact.ChargedAt) : "not recorded"),
                ("Temperature", $"{Figures.Fahrenheit(fact.TemperatureF.Value)} ({Figures.Celsius(fact.TemperatureF.Value)})"),
            ];
            // Self-consolidating concrete is tested for its flow, conventional concrete for its slump, dry-cast for neither.
            if (fact.FlowIn is { } flow) pairs.Add(("Slump flow, two diameters", string.Join(" and ", flow.Select(Figures.Inch)) + $" ({string.Join(" and ", flow.Select(Figures.Millimetre))})"));
            if (fact.SlumpIn is { } slump) pairs.Add(("Slump", $"{Figures.Inch(slump)} ({Figures.Millimetre(slump)})"));
            if (fact.FlowIn is null && fact.SlumpIn is null) pairs.Add(("Slump or slump flow", "not taken"));
            pairs.Add(("Air, gauge", fact.AirGaugePct is { } gauge ? Figures.Percent(gauge) : "not taken"));
            pairs.Add(("Aggregate correction", fact.AggregateCorrectionPct is { } correction ? Figures.Percent(correction) : "not taken"));
            pairs.Add(("Air, corrected", fact is { AirGaugePct: { } read, AggregateCorrectionPct: { } less } ? Figures.Percent(read.Value - less.Value) : "not taken"));
            pairs.Add(("Density", fact.DensityLbFt3 is { } d ? $"{Figures.Density(d)} ({Figures.DensityMetric(d)})" : "not taken"));
            if (fact.FlowIn is not null || fact.StabilityIndex is not null) pairs.Add(("Visual stability index", fact.StabilityIndex is { } index ? Figures.Count(index) : "not taken"));
            if (fact.T50S is { } t50) pairs.Add(("Time to 20 in (508 mm)", t50.Text + " s"));
            if (fact.JRingFlowIn is { } ring) pairs.Add(("Flow through the J-ring", $"{Figures.Inch(ring)} ({Figures.Millimetre(ring)})"));
            if (fact is { ColumnTopLb: { } top, ColumnBottomLb: { } bottom }) pairs.Add(("Segregation column, top / bottom", $"{Figures.Pound(top)} / {Figures.Pound(bottom)} ({Figures.Kilogram(top)} / {Figures.Kilogram(bottom)})"));
            if (fact.FirstPortionAt is { } first) pairs.Add(("Portions taken", $"{Figures.Clock(first)} to {(fact.LastPortionAt is { } last ? Figures.Clock(last) : "not recorded")}"));
            if (fact.TestsStartedAt is { } began) pairs.Add(("Tests begun", Figures.Time(began)));
            if (fact.RetestOf is { } retest) pairs.Add(("Repeats the test of sample", retest));
            if (fact.SamplingLot is { } lot) pairs.Add(("Stands for sampling lot", lot));
            pairs.Add(("Cylinders moulded", $"{Figures.Time(fact.MouldedAt)}, {Words.Many(fact.Cylinders.Count, "cylinder")}"));
            pairs.Add(("Instruments", Join(fact.Instruments)));
            paper.Pairs(pairs);
        }
    }

    private void Strength()
    {
        paper.Notice("Caution", Caution, 7.4);
        foreach (var sample in File.RepresentingSamples)
        {
            Specimens(sample);
            foreach (var set in sample.Fact.Cylinders.GroupBy(c => (c.Purpose, c.Curing)).OrderBy(g => g.Key.Purpose))
            {
                paper.Heading($"Set for {Words.Of(set.Key.Purpose)}, sample {sample.Fact.Sample}, cured: {Words.Of(set.Key.Curing)}");
                paper.Table(
                    [new("Cylinder", 0.13), new("Tested, age", 0.19), new("Diameters", 0.14), new("Length", 0.1), new("Load", 0.13, true), new("Strength", 0.12, true), new("Fracture, cap", 0.15), new("Machine, technician", 0.17), new("Record", 0.08)],
                    [.. set.SelectMany(c => CylinderRows(sample.Fact, c)), .. Mean(sample.Fact, set)]);
            }
        }

        Cores();
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
                new(b.Fact.Machine, Face.Regular, $"{packet.Person(b.Person)}; {OnTheDay(b)}"),
                Line(b),
            ];
        }
    }

    /// <summary>Whether technician and machine were valid on the day of the test, in words.</summary>
    private string OnTheDay(Entry<CylinderBroken> broken) => OnTheDay(broken.Person, broken.Fact.Machine, broken.At);

    private string OnTheDay(string? person, string machine, Core.Records.Moment at)
    {
        var tester = Matter().Certified(person, Certification.StrengthTestingTechnician, at);
        var instrument = Matter().InCalibration(machine, at.At);
        return tester.Valid && instrument.Valid ? "both valid that day" : "NOT VALID: " + string.Join("; ", new[] { tester, instrument }.Where(c => !c.Valid).Select(c => c.Words));
    }

    /// <summary>Where the cylinders of a sample were until they were broken.</summary>
    private void Specimens(Entry<SampleTested> sample)
    {
        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries)
        {
            (string What, IReadOnlyList<string> Cylinders)? seen = entry.Fact switch
            {
                InitialCureRecorded f when f.Sample == sample.Fact.Sample => ($"initial curing {Figures.Time(f.BeganAt)} to {Figures.Time(f.EndedAt)}, {Figures.Fahrenheit(f.LowestF.Value)} to {Figures.Fahrenheit(f.HighestF.Value)} ({Figures.Celsius(f.LowestF.Value)} to {Figures.Celsius(f.HighestF.Value)}), {(f.KeptMoist ? "kept moist" : "NOT KEPT MOIST")}", f.Cylinders),
                CylindersIntoCuring f when f.Sample == sample.Fact.Sample => ($"into final curing, {Words.Of(f.Curing)}: {f.Place}{(f.TemperatureF is { } t ? $", {Figures.Fahrenheit(t.Value)} ({Figures.Celsius(t.Value)})" : "")}", f.Cylinders),
                CylindersDemoulded f when f.Sample == sample.Fact.Sample => ("stripped from the moulds", f.Cylinders),
                CylindersMoved f when f.Sample == sample.Fact.Sample => ($"moved to {f.To}", f.Cylinders),
                CylinderLost f when f.Sample == sample.Fact.Sample => ($"LOST: {f.Remarks}", [f.Cylinder]),
                CylinderDamaged f when f.Sample == sample.Fact.Sample => ($"DAMAGED: {f.Damage}", [f.Cylinder]),
                _ => null,
            };
            if (seen is { } s) rows.Add([new(Figures.Time(entry.At.At), Face.Regular, packet.Person(entry.Person)), string.Join(", ", s.Cylinders), s.What, Line(entry.Source.Id)]);
        }

        if (rows.Count == 0) return;
        paper.Heading($"Cylinders of sample {sample.Fact.Sample} until their tests");
        paper.Table([new("When, by whom", 0.22), new("Cylinders", 0.2), new("What", 0.48), new("Record", 0.1)], rows);
    }

    private void Cores()
    {
        var cores = File.Of<CoreTaken>().Where(c => c.Fact.Unit == unit.Id).ToList();
        if (cores.Count == 0) return;
        paper.Heading("Cores of this unit");
        paper.Table([new("Core, place", 0.18), new("Taken", 0.16), new("Tested", 0.16), new("Diameters, length", 0.16), new("Load", 0.11, true), new("Strength, corrected for its length", 0.14, true), new("Machine, technician", 0.17), new("Records", 0.1)],
            [.. cores.Select(c =>
            {
                var b = File.Of<CoreBroken>().LastOrDefault(x => x.Fact.Core == c.Fact.Core);
                var of = new Cell(c.Fact.Core, Face.Bold, c.Fact.Place + (c.Fact.ForSample is { } sample ? $"; for the low test of sample {sample}" : ""));
                if (b is null) return new[] { of, Figures.Time(c.At.At), "not tested on record", None, None, None, None, Line(c) };
                var psi = Core.Concrete.Strength.Psi(b.Fact.LoadLbf.Value, b.Fact.Diameter1In.Value, b.Fact.Diameter2In.Value, b.Fact.LengthIn.Value, Matter().Rounding);
                return
                [
                    of, Figures.Time(c.At.At), new(Figures.Time(b.At.At), Face.Regular, b.Fact.ConditionedDays is { } days ? $"conditioned {days.Text} days" : null),
                    new($"{b.Fact.Diameter1In.Text}, {Figures.Inch(b.Fact.Diameter2In)}; {Figures.Inch(b.Fact.LengthIn)}", Face.Regular, $"{Figures.Millimetre(b.Fact.Diameter1In)}, {Figures.Millimetre(b.Fact.Diameter2In)}; {Figures.Millimetre(b.Fact.LengthIn)}"),
                    new(Figures.PoundForce(b.Fact.LoadLbf), Face.Regular, Figures.Kilonewton(b.Fact.LoadLbf)),
                    psi is { } p ? new Cell(Figures.Psi(p), Face.Bold, Figures.Megapascal(p)) : Cell.Strong("none: shorter than its diameter"),
                    new(b.Fact.Machine, Face.Regular, $"{packet.Person(b.Person)}; {OnTheDay(b.Person, b.Fact.Machine, b.At)}"), $"{Line(c)} {Line(b)}",
                ];
            })]);
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
        var requirement = purpose switch { CylinderPurpose.Strip => "strip.strength", CylinderPurpose.Ship => "ship.strength", CylinderPurpose.Acceptance => "acceptance.strength", _ => null };
        return requirement is null || unit.Judgement.Findings.Any(f => f.Requirement == requirement && f.Used.Contains(broken));
    }

    private static readonly Cell None = "–";

    private static string Age(TimeSpan age) =>
        age < TimeSpan.FromDays(3) ? Figures.Round((decimal)age.TotalHours, 1) + " h" : Figures.Round((decimal)age.TotalDays, 1) + " days";

    private void Curing()
    {
        var pours = File.Placements.Select(p => p.Pour.Fact.Pour).ToHashSet(StringComparer.Ordinal);
        var rows = new List<Cell[]>();
        foreach (var entry in File.Entries)
        {
            (string Pour, string What)? step = entry.Fact switch
            {
                CureBegun f => (f.Pour, $"curing begun: {Words.Of(f.Method)}{(f.Remarks is { } r ? "; " + r : "")}"),
                HeatTurned f => (f.Pour, f.On ? $"heat on{(f.SetF is { } t ? $", set to {Figures.Fahrenheit(t.Value)} ({Figures.Celsius(t.Value)})" : "")}" : "heat off"),
                CureEnded f => (f.Pour, "curing ended" + (f.Remarks is { } r ? "; " + r : "")),
                _ => null,
            };
            if (step is { } s && pours.Contains(s.Pour)) rows.Add([new(Figures.Time(entry.At.At), Face.Regular, packet.Person(entry.Person)), s.Pour, s.What, Line(entry.Source.Id)]);
        }

        if (rows.Count > 0)
        {
            paper.Heading("Curing as it was done");
            paper.Table([new("When, by whom", 0.24), new("Pour", 0.18), new("What", 0.48), new("Record", 0.1)], rows);
        }

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
