using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A frame is dropped in the yard, rejected and broken up before a witness; the mark is cast again under a serial of its own.</summary>
internal sealed class DroppedAndRecast(Scene scene) : FrameOfRevisionC(scene, "RF-0008", scene.At(4, DayOfWeek.Thursday)), IChapter
{
    private const string Chapter = "Dropped in the yard and cast again", Nonconformance = "NC-0005", Recast = "RF-0009";

    public void Tell()
    {
        Live();
        var dropped = Scene.At(5, DayOfWeek.Tuesday, 9);
        Yard(dropped, new UnitDamaged(Serial, "Fell from 2 ft off its dunnage; crack through the slab at midspan. Nobody was near."));
        Inspect(dropped.AddHours(1), new CracksMapped(Serial, [new CrackSeen("slab, midspan, full width", Readings.R("1/8"), Readings.R("72"))], [new DefectSeen("north leg, foot", DefectKind.Spall, Readings.R("3"), Readings.R("60"))]));
        Inspect(dropped.AddHours(1.2), new NonconformanceRaised(Nonconformance, [Serial], NonconformanceClass.Major, Structural: true, "Dropped; cracked through at midspan.", "ship.sound"));
        Scene.Office(dropped.AddHours(3), new NonconformanceDisposed(Nonconformance, DispositionKind.Reject, "Not to be repaired."));
        AgencyActs(dropped.AddHours(4), new AgencyRejected(Serial, "Cracked through at midspan.", "Invented letter N-93"));
        Scene.Office(dropped.AddHours(5), new UnitRejected(Serial, "Dropped; cracked through at midspan."));
        Scene.Office(dropped.AddHours(5.2), new NonconformanceClosed(Nonconformance, "Rejected; cast again as RF-0009."));
        Yard(dropped.AddDays(3), new UnitDisposed(Serial, "Broken up, steel cut out and weighed to scrap.", Plant.Inspector.Id));
        new FrameOfRevisionC(Scene, Recast, Scene.At(6, DayOfWeek.Tuesday)).Live();
        Scene.Office(Scene.At(5, DayOfWeek.Thursday, 8), new UnitRecast(Recast, Serial, "In place of the frame that was dropped."));
        Scene.Expect(new PlaceExpected(Chapter, null, Serial, UnitPhase.Disposed));
        Scene.Expect(new PlaceExpected(Chapter, null, Recast, UnitPhase.Delivered));
        Scene.Expect(new HoldExpected(Chapter, null, Recast, HoldKind.Ship, HoldState.Released, Contradicted: false));
    }

    protected override void ShipSet(SampleTested sample)
    {
    }

    public override void Ship(DateTimeOffset at)
    {
    }

    protected override void Accept(SampleTested sample)
    {
    }
}
