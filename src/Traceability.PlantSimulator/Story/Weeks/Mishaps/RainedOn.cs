using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>The pour is released, then it rains into the open form: the release has expired. Blown dry, inspected and released again, it is poured.</summary>
internal sealed class RainedOn(Scene scene) : UnitLife(scene, Frames.WingWall, "WW-0003", scene.At(3, DayOfWeek.Monday), 1), IChapter
{
    private const string Chapter = "A release that expired after rain";

    public void Tell()
    {
        Live();
        Release(HoldKind.Pour, base.PourAt.AddMinutes(-25));
        Scene.Expect(new HoldExpected(Chapter, Rain.AddMinutes(5), Serial, HoldKind.Pour, HoldState.Expired));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Pour, HoldState.Released, Contradicted: false));
    }

    private DateTimeOffset Rain => base.PourAt.AddMinutes(-15);

    protected override DateTimeOffset PourAt => base.PourAt.AddHours(2.5);

    protected override void AgencyComes()
    {
        base.AgencyComes();
        Scene.Send(Plant.PourFloor, Plant.PourForeman, Rain, new WeatherRead([Serial], R("58"), RainedIn: true, R("88"), R("6")));
        Inspect(Rain.AddMinutes(70), ClosedForm() with { Remarks = "Blown dry after rain." });
    }
}
