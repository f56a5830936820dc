using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>The first strip set breaks low. Nobody lifts; five and a half hours later two more are broken and the unit comes out.</summary>
internal class LowStripSet(Scene scene, string serial, DateTimeOffset day, int slot) : UnitLife(scene, Culverts.Box, serial, day, slot), IChapter
{
    private const string Chapter = "A low strip set";

    /// <summary>Early in the story, fixed the same day.</summary>
    public static IChapter FixedSameDay(Scene scene) => new LowStripSet(scene, "BC-0003", scene.At(2, DayOfWeek.Tuesday), Culverts.First);

    /// <summary>On the last morning of the story: the crew is waiting.</summary>
    public static IChapter Today(Scene scene) => new LowStripSet(scene, "BC-0016", scene.At(8, DayOfWeek.Wednesday), Culverts.First);

    public void Tell()
    {
        Live();
        Release(HoldKind.Strip, StripAt.AddMinutes(40), refused: true);
        Scene.Expect(new FindingExpected(Chapter, StripAt.AddMinutes(40), Serial, "strip.strength", Verdict.NotMet, SampleId));
        Scene.Expect(new HoldExpected(Chapter, StripAt.AddMinutes(40), Serial, HoldKind.Strip, HoldState.Held));
        Scene.Expect(StripAt.AddHours(6) < Scene.At(8, DayOfWeek.Thursday, 10)
            ? new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Released, Contradicted: false)
            : new HoldExpected(Chapter, null, Serial, HoldKind.Strip, HoldState.Held));
    }

    protected override void Strip(SampleTested sample)
    {
        Concrete.Break(sample.Sample, "ST1", StripAt, 2380, 2480);
        Concrete.Break(sample.Sample, "ST2", StripAt.AddMinutes(6), 2380, 2480);
        var again = StripAt.AddHours(5.5);
        Concrete.Break(sample.Sample, "ST3", again, 3450, 3750);
        Concrete.Break(sample.Sample, "ST4", again.AddMinutes(6), 3450, 3750);
        Lifted(again.AddMinutes(50));
    }

    // Lifted in the afternoon, so looked at after that.
    public override void AsCast(DateTimeOffset at) => base.AsCast(at.AddHours(5));
}
