using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>The second testing machine broke this unit's cylinders; when the unit is delivered the machine is found to read 2.6 % high.</summary>
internal sealed class MachineFoundHigh(Scene scene) : UnitLife(scene, Culverts.Box, "BC-0005", scene.At(2, DayOfWeek.Thursday), Culverts.First), IChapter
{
    private const string Chapter = "A testing machine found high after the fact";

    public void Tell()
    {
        Live();
        var found = Scene.At(4, DayOfWeek.Monday, 11);
        Scene.Send(Plant.Laboratory, Plant.StrengthTechnician, found, new InstrumentFoundOut(BreakingMachine, Scene.Date(found), R("2.6"), "Reads high over its upper range against the calibrating cell."));
        Scene.Office(found.AddHours(3), new InstrumentCalibrated(BreakingMachine, InstrumentKind.CompressionMachine, Scene.Date(found), Scene.Date(found).AddYears(1).AddDays(-1), $"CAL-{BreakingMachine}-{found:yyMMdd}", R("2.6")));
        Scene.Expect(new HoldExpected(Chapter, found.AddMinutes(-5), Serial, HoldKind.Ship, HoldState.Released, Contradicted: false));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Strip, HoldState.Released, Contradicted: true));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Released, Contradicted: true));
        Scene.Expect(new RecallExpected(Chapter, null, "instrument:" + BreakingMachine, [Serial], []));
        Scene.Expect(new PlaceExpected(Chapter, null, Serial, UnitPhase.Delivered));
    }

    protected override string BreakingMachine => Tools.SecondMachine;
}
