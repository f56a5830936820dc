using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A delivered barrier comes back with a broken corner. It is repaired after the repair was approved, and stands in the yard.</summary>
internal sealed class ReturnedUnit(Scene scene, UnitLife unit) : IChapter
{
    private const string Chapter = "A return from the site", Nonconformance = "NC-0003";

    public void Tell()
    {
        var back = scene.At(4, DayOfWeek.Wednesday, 15);
        scene.Send(Plant.Gate, Plant.Dispatcher, back.AddDays(-6), new ExceptionNoted("DL-" + unit.Serial, unit.Serial, "Corner at the joint broken off at unloading."));
        scene.Send(Plant.Yard, Plant.YardForeman, back, new UnitReturned(unit.Serial, "Broken corner at the joint.", "repair bay"));
        scene.Send(Plant.Inspection, Plant.Inspector, back.AddMinutes(30), new CracksMapped(unit.Serial, [], [new DefectSeen("joint face, top corner", DefectKind.Spall, R("1 1/2"), R("20"))]));
        scene.Send(Plant.Inspection, Plant.Inspector, back.AddMinutes(40), new NonconformanceRaised(Nonconformance, [unit.Serial], NonconformanceClass.Minor, Structural: false, "Corner broken off at unloading, spall at the joint face.", "ship.sound"));
        var approved = back.AddDays(2);
        scene.Office(approved, new NonconformanceDisposed(Nonconformance, DispositionKind.Repair, "Invented repair procedure RP-3."));
        scene.Office(approved.AddHours(1), new NonconformanceApproved(Nonconformance, Approver.QualityEngineer, "Invented memorandum Q-12", approved.AddMinutes(50), []));
        var began = scene.At(5, DayOfWeek.Monday, 10);
        scene.Send(Plant.Yard, Plant.YardForeman, began.AddHours(2), new UnitRepaired(unit.Serial, "RP-3", began, began.AddHours(1.8), Nonconformance));
        scene.Send(Plant.Inspection, Plant.Inspector, began.AddHours(4.5), new CracksMapped(unit.Serial, [], [], "Repair sound; nothing else seen."));
        scene.Office(began.AddHours(5), new NonconformanceClosed(Nonconformance, "Repaired and looked at."));
        scene.Send(Plant.Yard, Plant.YardForeman, began.AddHours(6), new UnitMoved(unit.Serial, "row 9", "forklift"));
        scene.Office(scene.At(8, DayOfWeek.Wednesday, 9), new NoticeGiven([unit.Serial], HoldKind.Ship, scene.At(8, DayOfWeek.Friday, 13), $"second notice {unit.Serial} Ship"));
        scene.Expect(new PlaceExpected(Chapter, back.AddHours(-1), unit.Serial, UnitPhase.Delivered));
        scene.Expect(new PlaceExpected(Chapter, null, unit.Serial, UnitPhase.Returned));
        scene.Expect(new HoldExpected(Chapter, null, unit.Serial, HoldKind.Ship, HoldState.Ready));
    }
}
