using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>The unit is long delivered when its 28-day cylinders break low. Three cores from it show what is in place.</summary>
internal sealed class LowAcceptance(Scene scene) : UnitLife(scene, Frames.WingWall, "WW-0006", scene.At(1, DayOfWeek.Friday), 1), IChapter
{
    private const string Chapter = "A low 28-day test and cores", Nonconformance = "NC-0006";

    public void Tell()
    {
        Live();
        var low = PourAt.AddDays(28).AddHours(2);
        Inspect(low, new NonconformanceRaised(Nonconformance, [Serial], NonconformanceClass.Major, Structural: true, "28-day test more than 500 psi under the specified strength.", "acceptance.strength"));
        var drilled = Scene.At(6, DayOfWeek.Tuesday, 9);
        AgencyActs(drilled.AddMinutes(20), new AgencyWitnessed(Serial, HoldKind.Acceptance, "Drilling of three cores on site."));
        var broken = drilled.AddDays(6).AddHours(1);
        for (var i = 1; i <= 3; i++)
        {
            var core = $"CR-{Serial}-{i}";
            Scene.Send(Plant.Laboratory, Plant.StrengthTechnician, drilled.AddMinutes(15 * i), new CoreTaken(core, Serial, $"slab, {i} ft from the joint", SampleId));
            var load = decimal.Round(Readings.Between(4650, 4900) * 3.14159m / 4 * 3.72m * 3.72m / 10) * 10;
            Scene.Send(Plant.Laboratory, Plant.StrengthTechnician, broken.AddMinutes(8 * i), new CoreBroken(core, R("3.72"), R("3.72"), R("7.44"), R(load, 0), 3, Tools.Machine, R("6")));
        }

        var letter = Scene.At(7, DayOfWeek.Thursday, 14);
        Scene.Office(letter.AddHours(-3), new NonconformanceDisposed(Nonconformance, DispositionKind.UseAsIs, "Cores above 0.85 on average and none under 0.75."));
        Scene.Office(letter, new NonconformanceApproved(Nonconformance, Approver.EngineerOfRecord, "Invented letter E-44", letter.AddHours(-1), [new AcceptedFinding("acceptance.strength")]));
        Scene.Office(letter.AddMinutes(10), new NonconformanceClosed(Nonconformance, "Cores accepted by the engineer of record."));
        Scene.Expect(new FindingExpected(Chapter, low, Serial, "acceptance.strength", Verdict.NotMet, SampleId));
        Scene.Expect(new FindingExpected(Chapter, low, Serial, "acceptance.low-strength", Verdict.Missing, SampleId));
        Scene.Expect(new HoldExpected(Chapter, low, Serial, HoldKind.Acceptance, HoldState.Held));
        Scene.Expect(new FindingExpected(Chapter, broken.AddHours(1), Serial, "acceptance.low-strength", Verdict.Met, SampleId));
        Scene.Expect(new FindingExpected(Chapter, null, Serial, "acceptance.strength", Verdict.Met, "cores"));
        Scene.Expect(new PlaceExpected(Chapter, low, Serial, UnitPhase.Delivered));
    }

    protected override void Accept(SampleTested sample)
    {
        var month = PourAt.AddDays(28).AddMinutes(30);
        for (var i = 1; i <= 3; i++) Concrete.Break(sample.Sample, $"AC{i}", month.AddMinutes(6 * i), 3950, 4150);
    }
}
