using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Lines;

/// <summary>Dry-cast manhole sections, five a day to stock, of no contract; in the sixth week six of them are allocated to the road.</summary>
internal sealed class Manholes(Scene scene) : IChapter
{
    private const int Allocated = 6;

    public static readonly Product Section = new("MH48", "SD-610", "manhole", null, Books.DryCast, ["MH-FORM-1"], "48 by 48", 1, "4.0",
        [new BarLine("M1", "#4", 6, R("165"), CoverFace.Formed, R("1 1/2"), R("8"), null, R("19"))],
        [
            new SpecifiedDimension("internal diameter", DimensionKind.Opening, R("48")),
            new SpecifiedDimension("wall thickness", DimensionKind.Thickness, R("5")),
            new SpecifiedDimension("height", DimensionKind.Length, R("48")),
        ],
        [new EmbedLine("lifting insert", 3)],
        new LiftingData(R("3200"), 3, R("60"), R("8000"), R("1500")));

    public void Tell()
    {
        Frames.Approved(scene, Section);
        var all = new List<ManholeLife>();
        foreach (var week in new[] { 2, 4, 5, 6 })
        {
            var day = new ManholeDay(scene, scene.At(week, DayOfWeek.Friday), all.Count + 1);
            day.Tell();
            all.AddRange(day.Units);
        }

        var at = scene.At(6, DayOfWeek.Monday, 8);
        foreach (var unit in all.Take(Allocated))
        {
            var allocated = new UnitAllocated(unit.Serial, Books.Road.Id, "MH-A", "From stock.");
            scene.Decide(at = at.AddMinutes(3), Plant.QualityEngineer, "decisions/allocations", new { unit = unit.Serial, contract = allocated.Contract, mark = allocated.Mark, reason = allocated.Remarks }, allocated);
        }

        foreach (var unit in all.Take(Allocated - 1)) unit.Ship(scene.At(6, DayOfWeek.Wednesday, 9).AddMinutes(15 * unit.Slot));
        new Mishaps.Remarked(scene, all[Allocated - 1].Serial).Tell();

        scene.Expect(new FindingExpected("Manholes to stock", scene.At(5, DayOfWeek.Monday, 9), all[0].Serial, "tying.domestic", Verdict.NotApplicable, "stock"));
        scene.Expect(new AllowedExpected("Manholes to stock", scene.At(6, DayOfWeek.Tuesday, 9), all[0].Serial, "tying.domestic"));
        foreach (var unit in all.Take(Allocated - 1))
        {
            scene.Expect(new HoldExpected("Manholes to stock", null, unit.Serial, HoldKind.Ship, HoldState.Released));
            scene.Expect(new PlaceExpected("Manholes to stock", null, unit.Serial, UnitPhase.Delivered));
        }

        scene.Expect(new PlaceExpected("Manholes to stock", null, all[10].Serial, UnitPhase.InYard));
    }
}

/// <summary>Five sections from one batch.</summary>
internal sealed class ManholeDay(Scene scene, DateTimeOffset day, int first)
{
    private readonly Concrete _concrete = new(scene, Books.DryCast, $"manholes from {first}");

    public IReadOnlyList<ManholeLife> Units { get; } = [.. Enumerable.Range(0, 5).Select(i => new ManholeLife(scene, $"MH-{first + i:D4}", day, i))];

    private string PourId => $"P-MH-{first}";

    private DateTimeOffset PourAt => day.AddHours(13);

    public void Tell()
    {
        var lot = $"SL-MH-{first}";
        scene.Office(day.AddDays(-1).AddHours(10.2), new SamplingLotDefined(lot, SamplingBasis.MixAndDay, Books.DryCast.Id, [.. Units.Select(u => u.Serial)], DrawnAtRandom: false, Scene.Date(day)));
        foreach (var unit in Units)
        {
            unit.Before();
            scene.Release(unit.Serial, HoldKind.Pour, PourAt.AddMinutes(-25 + unit.Slot));
        }

        var ticket = _concrete.Ticket(PourAt, "4.0");
        _concrete.Send(ticket);
        _concrete.Accept(ticket.Batch, ticket.ChargedAt.AddMinutes(6));
        var sample = _concrete.Fresh($"SM-MH-{first}", ticket.Batch, PourAt.AddMinutes(9), lot);
        scene.Send(Plant.Laboratory, Plant.FieldTechnician, sample.SampledAt.AddMinutes(26), sample);
        scene.Send(Plant.PourFloor, Plant.PourForeman, PourAt.AddMinutes(40), new PourPlaced(PourId, PourAt.AddMinutes(8), PourAt.AddMinutes(38),
            [.. Units.Select(u => new Placement(u.Serial, ticket.Batch, R("0.8"), 1))]));
        scene.Send(Plant.Laboratory, Plant.StrengthTechnician, PourAt.AddHours(17.5), new CureTemperatures(PourId, Tools.Probe(8),
            [.. Enumerable.Range(0, 64).Select(i => new TemperatureReading(PourAt.AddMinutes(45 + 15 * i), R(70 + Math.Min(Math.Max(i - 12, 0), 30) * 0.8m, 0)))], InitialSetAt: PourAt.AddHours(3.9)));

        var strip = PourAt.AddHours(18.3);
        _concrete.Break(sample.Sample, "ST1", strip, 2500, 2800);
        _concrete.Break(sample.Sample, "ST2", strip.AddMinutes(6), 2500, 2800);
        _concrete.IntoCuring(sample, strip.AddMinutes(20));
        var week = PourAt.AddDays(7).AddMinutes(20);
        _concrete.Break(sample.Sample, "SH1", week, 5750, 6250);
        _concrete.Break(sample.Sample, "SH2", week.AddMinutes(6), 5750, 6250);
        for (var i = 1; i <= 3; i++) _concrete.Break(sample.Sample, $"AC{i}", PourAt.AddDays(28).AddMinutes(30 + 6 * i), 6600, 7300);
        foreach (var unit in Units)
        {
            scene.Release(unit.Serial, HoldKind.Strip, strip.AddMinutes(30 + unit.Slot));
            unit.LiftedOut(strip.AddMinutes(50 + 7 * unit.Slot));
            unit.AsCast(strip.AddHours(3).AddMinutes(50 * unit.Slot));
        }
    }
}

/// <summary>One section; it is poured and tested with the others of its day.</summary>
internal sealed class ManholeLife(Scene scene, string serial, DateTimeOffset day, int slot) : UnitLife(scene, Manholes.Section, serial, day, slot)
{
    public int Slot { get; } = slot;

    protected override DateTimeOffset PourAt => PourDay.AddHours(13);

    // A sixteenth short of the drawing: inside the national standards' tolerance and the commission's, outside the department's.
    protected override CloseUpInspected Inspected(CloseUpInspected usual) =>
        usual with { Covers = [usual.Covers[0] with { CoverIn = R("1 7/16") }, .. usual.Covers.Skip(1)] };

    // Allocated by the time it is shipped, so the commission's inspector stamps it.
    protected override Agency? AgencyAtShipping => Books.West;
}
