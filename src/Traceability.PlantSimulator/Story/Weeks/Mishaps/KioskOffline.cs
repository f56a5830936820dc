using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>The inspector's tablet is off the network for a day. What it recorded arrives the next morning; the pour waits for it.</summary>
internal sealed class KioskOffline(Scene scene) : UnitLife(scene, Culverts.Box, "BC-0007", scene.At(3, DayOfWeek.Tuesday), Culverts.First), IChapter
{
    private const string Chapter = "A kiosk offline for a day";

    public void Tell()
    {
        Live();
        var asked = base.PourAt.AddMinutes(-25);
        Release(HoldKind.Pour, asked, refused: true);
        Scene.Expect(new FindingExpected(Chapter, asked, Serial, "close-up.cover", Verdict.Pending));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Pour, HoldState.Released, Contradicted: false));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Released, Contradicted: false));
    }

    protected override DateTimeOffset PourAt => base.PourAt.AddDays(1);

    protected override void Inspect(DateTimeOffset at, IFact fact)
    {
        var back = PourDay.AddDays(1).AddHours(6.5);
        Scene.Send(Plant.Inspection, Plant.Inspector, at, fact, at >= PourDay && at < back ? back : null);
    }
}
