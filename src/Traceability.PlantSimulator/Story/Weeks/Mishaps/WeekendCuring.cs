using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>Poured on a Friday: its cylinders lie in their moulds until Monday, longer than initial curing may last.</summary>
internal sealed class WeekendCuring(Scene scene) : UnitLife(scene, Frames.Frame, "RF-0002", scene.At(1, DayOfWeek.Friday), 0), IChapter
{
    public void Tell()
    {
        Live();
        Inspect(StripAt.AddDays(3), new UnitFitted(Serial, "RF-0001", Readings.R("3/8"), Fits: true));
        Scene.Send(Plant.PourFloor, Plant.PourForeman, PourAt.AddMinutes(30), new DisplacementSeen(Serial, Displaced.Insert, PutBack: true, "North-east lifter leaned; set upright before the concrete stiffened.", Readings.R("3/8")));
        Scene.Expect(new FindingExpected("Initial curing over a weekend", Scene.At(2, DayOfWeek.Tuesday), Serial, "acceptance.initial-cure", Verdict.NotMet, SampleId));
        Scene.Expect(new HoldExpected("Initial curing over a weekend", null, Serial, HoldKind.Strip, HoldState.Released));
    }

    protected override void IntoCuring(SampleTested sample) => Concrete.IntoCuring(sample, Scene.At(2, DayOfWeek.Monday, 7.2));
}
