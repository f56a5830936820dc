using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>
/// The department holds every shipment itself. It cannot come and waives its hold by letter, for the day after the truck was
/// ordered. The truck waits that day.
/// </summary>
internal sealed class WrongDayWaiver(Scene scene) : UnitLife(scene, Frames.Frame, "RF-0005", scene.At(3, DayOfWeek.Tuesday), 0), IChapter
{
    private const string Chapter = "An agency hold and a waiver for the wrong day";

    public void Tell()
    {
        Live();
        var asked = Ordered.AddMinutes(-30);
        Release(HoldKind.Ship, asked, refused: true);
        Scene.Expect(new HoldExpected(Chapter, asked, Serial, HoldKind.Ship, HoldState.Held));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Released, Contradicted: false));
        Scene.Expect(new PlaceExpected(Chapter, null, Serial, UnitPhase.Delivered));
    }

    private DateTimeOffset Ordered => PourAt.AddDays(7).AddHours(3);

    public override void Ship(DateTimeOffset at) => base.Ship(at.AddDays(1));

    protected override void AgencyShips(DateTimeOffset at)
    {
        Stamped(Ordered.AddHours(-2));
        var day = Ordered.Date;
        var midnight = new DateTimeOffset(day, Ordered.Offset).AddDays(1);
        var letter = new Paper("Invented letter N-81");
        var waived = new AgencyWaived([Serial], HoldKind.Ship, midnight, midnight.AddHours(23.9), letter.Title, Conditions: "Photographs of the loaded unit are sent.");
        Scene.Decide(Ordered.AddHours(-1), Plant.QualityEngineer, "decisions/agency-acts", new { act = "agency.waived", data = FactCatalog.Write(waived), letter = new { title = letter.Title, sha256 = letter.Sha256 } }, waived with { LetterSha256 = letter.Sha256 }, letter: letter);
    }
}
