using Traceability.Core.Events;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Lines;

/// <summary>
/// Barrier cast in beds: six units in a bed from four batches, row by row, one sampling lot to a bed, sampled where a random
/// number points.
/// </summary>
internal sealed class BarrierBeds(Scene scene) : IChapter
{
    public static readonly Product Barrier = new("JB12", "SD-515", "barrier", Books.Median, Books.Barrier, ["BED-1/1", "BED-1/2", "BED-1/3", "BED-1/4", "BED-1/5", "BED-1/6"], "bed of six", 4, "3.0",
        [
            new BarLine("J1", "#5", 8, R("138"), CoverFace.Formed, R("2"), R("8"), null, null),
            new BarLine("J2", "#4", 18, R("52"), CoverFace.Formed, R("1 1/2"), R("8"), null, null),
        ],
        [
            new SpecifiedDimension("height", DimensionKind.Length, R("42")),
            new SpecifiedDimension("length", DimensionKind.Length, R("144")),
            new SpecifiedDimension("width at base", DimensionKind.Thickness, R("24")),
        ],
        [new EmbedLine("lifting insert", 2), new EmbedLine("joint sleeve", 4)],
        new LiftingData(R("8000"), 2, R("60"), R("24000"), R("3000")));

    public void Tell()
    {
        Frames.Approved(scene, Barrier);
        foreach (var (number, week) in new[] { (1, 2), (2, 4), (3, 5), (4, 6) })
            new BarrierBed(scene, number, scene.At(week, DayOfWeek.Wednesday), number == 1 ? u => new Mishaps.ReturnedUnit(scene, u) : null).Tell();
    }
}

/// <summary>One bed on one day.</summary>
/// <param name="scene">Where it is told.</param>
/// <param name="number">Number of the bed's casting.</param>
/// <param name="day">Midnight of the day of the pour.</param>
/// <param name="third">What becomes of the third unit after its delivery; null for nothing more.</param>
internal sealed class BarrierBed(Scene scene, int number, DateTimeOffset day, Func<UnitLife, IChapter>? third)
{
    private const int Batches = 4;

    // Three yards to a batch, two to a unit: every second unit takes from two batches.
    private static readonly (int Unit, int Batch, string Yards)[] s_rows = [(0, 0, "2.0"), (1, 0, "1.0"), (1, 1, "1.0"), (2, 1, "2.0"), (3, 2, "2.0"), (4, 2, "1.0"), (4, 3, "1.0"), (5, 3, "2.0")];

    private readonly Concrete _concrete = new(scene, Books.Barrier, $"bed {number}");
    private readonly List<BarrierLife> _units = [.. Enumerable.Range(0, 6).Select(i => new BarrierLife(scene, $"BAR-{number:D2}{i + 1:D2}", day, i, number))];

    private string SamplingLot => $"SL-JB-{number}";

    public void Tell()
    {
        string[] serials = [.. _units.Select(u => u.Serial)];
        scene.Office(day.AddDays(-1).AddHours(10), new SamplingLotDefined(SamplingLot, SamplingBasis.UnitGroup, Books.Barrier.Id, serials, DrawnAtRandom: true, Scene.Date(day)));
        scene.Office(day.AddDays(-1).AddHours(10.1), new RandomNumberDrawn(SamplingLot, "invented table of random numbers, line 7", "0.31", "the second load"));
        foreach (var unit in _units) unit.Before();
        foreach (var unit in _units) scene.Release(unit.Serial, HoldKind.Pour, PourAt.AddMinutes(-25 + unit.Slot));
        var sample = Pour(serials);
        Cure();
        var strip = PourAt.AddHours(18.3);
        _concrete.Break(sample.Sample, "ST1", strip, 3450, 3750);
        _concrete.Break(sample.Sample, "ST2", strip.AddMinutes(6), 3450, 3750);
        _concrete.IntoCuring(sample, strip.AddMinutes(20));
        var week = PourAt.AddDays(7).AddMinutes(20);
        _concrete.Break(sample.Sample, "SH1", week, 5750, 6250);
        _concrete.Break(sample.Sample, "SH2", week.AddMinutes(6), 5750, 6250);
        for (var i = 1; i <= 3; i++) _concrete.Break(sample.Sample, $"AC{i}", PourAt.AddDays(28).AddMinutes(30 + 6 * i), 6600, 7300);
        foreach (var unit in _units)
        {
            scene.Release(unit.Serial, HoldKind.Strip, strip.AddMinutes(30 + unit.Slot));
            unit.LiftedOut(strip.AddMinutes(50 + 7 * unit.Slot));
            unit.AsCast(strip.AddHours(3).AddMinutes(50 * unit.Slot));
            unit.Ship(PourAt.AddDays(7).AddHours(3).AddMinutes(12 * unit.Slot));
        }

        third?.Invoke(_units[2]).Tell();
        foreach (var serial in serials.Where((_, i) => number < 4 && (third is null || i != 2)))
            scene.Expect(new HoldExpected("A bed of barrier", null, serial, HoldKind.Ship, Core.Judging.HoldState.Released, Contradicted: false));
        if (number > 1) return;
        scene.Expect(new RecallExpected("A bed of barrier", null, "sample:" + sample.Sample, serials, []));
    }

    private DateTimeOffset PourAt => day.AddHours(13.5);

    private SampleTested Pour(string[] serials)
    {
        var tickets = Enumerable.Range(0, Batches).Select(i => _concrete.Ticket(PourAt.AddMinutes(11 * i), "3.0")).ToList();
        foreach (var ticket in tickets)
        {
            _concrete.Send(ticket);
            _concrete.Accept(ticket.Batch, ticket.ChargedAt.AddMinutes(7));
        }

        if (number == 2) scene.Send(Plant.PourFloor, Plant.PourForeman, tickets[3].ChargedAt.AddMinutes(9), new WaterAdded(tickets[3].Batch, R("6"), "Foreman asked for half an inch of slump; within the water held back."));
        var sample = _concrete.Fresh($"SM-JB-{number}", tickets[1].Batch, tickets[1].ChargedAt.AddMinutes(10), SamplingLot);
        scene.Send(Plant.Laboratory, Plant.FieldTechnician, sample.SampledAt.AddMinutes(26), sample);
        void Floor(double minutes, IFact fact) => scene.Send(Plant.PourFloor, Plant.PourForeman, PourAt.AddMinutes(minutes), fact);
        Floor(9, new PourStarted(PourId, serials));
        if (number == 2) Floor(34, new PourInterrupted(PourId, PourAt.AddMinutes(21), PourAt.AddMinutes(33), "Bucket gate stuck.", [serials[3]]));
        Floor(54, new PourFinished(PourId));
        Floor(55, new PourPlaced(PourId, PourAt.AddMinutes(9), PourAt.AddMinutes(53), [.. s_rows.Select(r => new Placement(serials[r.Unit], tickets[r.Batch].Batch, R(r.Yards), 1))]));
        foreach (var (serial, i) in serials.Select((s, i) => (s, i))) scene.Send(Plant.Inspection, Plant.Inspector, PourAt.AddMinutes(58 + i), new PourChecked(PourId, serial, true, true));
        return sample;
    }

    private string PourId => $"P-JB-{number}";

    private void Cure()
    {
        var began = PourAt.AddMinutes(64);
        scene.Send(Plant.PourFloor, Plant.PourForeman, began, new CureBegun(PourId, CuringMethod.Ambient, "Under blankets."));
        scene.Send(Plant.Laboratory, Plant.StrengthTechnician, began.AddHours(16.5), new CureTemperatures(PourId, Tools.Probe(7),
            [.. Enumerable.Range(0, 64).Select(i => new TemperatureReading(began.AddMinutes(15 * i), R(72 + Math.Min(Math.Max(i - 12, 0), 30) * 1.1m, 0)))], InitialSetAt: PourAt.AddHours(3.9)));
        scene.Send(Plant.PourFloor, Plant.PourForeman, began.AddHours(18), new CureEnded(PourId));
    }
}

/// <summary>One unit of a bed: it is poured and tested with the others.</summary>
internal sealed class BarrierLife(Scene scene, string serial, DateTimeOffset day, int slot, int bed) : UnitLife(scene, BarrierBeds.Barrier, serial, day, slot)
{
    public int Slot { get; } = slot;

    protected override DateTimeOffset PourAt => PourDay.AddHours(13.5);

    protected override void Schedule()
    {
        base.Schedule();
        if (bed == 1 && Slot == 0) Scene.Office(PourDay.AddDays(-1).AddHours(11), new DocumentAttached("unit:" + Serial, "Layout of bed 1", Books.Hash("layout of bed 1"), "application/pdf"));
    }
}
