using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A cover is typed as 1 1/16 in for 2 1/16 in. The quality engineer corrects it, a second approver signs with it.</summary>
internal class Mistyped(Scene scene, string serial, DateTimeOffset day, int slot) : UnitLife(scene, Culverts.Box, serial, day, slot), IChapter
{
    private const string Chapter = "A mistyped reading corrected";

    public static IChapter Of(Scene scene) => new Mistyped(scene, "BC-0008", scene.At(3, DayOfWeek.Tuesday), Culverts.Second);

    public virtual void Tell()
    {
        Live();
        Scene.Expect(new FindingExpected(Chapter, Typed.AddMinutes(10), Serial, "close-up.cover", Verdict.NotMet, "C1, near end"));
        Scene.Expect(new FindingExpected(Chapter, Corrected.AddMinutes(5), Serial, "close-up.cover", Verdict.Met, "C1, near end"));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Released, Contradicted: false));
    }

    protected DateTimeOffset Typed => Morning.AddMinutes(80);

    protected DateTimeOffset Corrected => Typed.AddMinutes(50);

    protected override void CloseUp()
    {
        var right = Steel(Cage);
        var wrong = right with { Covers = [right.Covers[0] with { CoverIn = R("1 1/16") }, .. right.Covers.Skip(1)] };
        Correct(Scene.Send(Plant.Inspection, Plant.Inspector, Typed, wrong), right);
        Scene.Send(Plant.FormHall, Plant.FormForeman, Morning.AddMinutes(110), new FormClosed(Serial, Form, Product.SetUp));
    }

    // A correction that turns "not met" into "met" is refused while one person alone signs it.
    protected virtual void Correct(CloudEvent sent, CloseUpInspected right)
    {
        var correction = Correction(sent, right);
        var content = new { record = correction.Record, replacedVersion = correction.ReplacedVersion, data = correction.Data, reason = correction.Reason };
        Scene.Decide(Corrected.AddMinutes(-6), Plant.QualityEngineer, "decisions/corrections", content, correction, refused: true);
        Scene.Decide(Corrected, Plant.QualityEngineer, "decisions/corrections", content, correction, second: Plant.DeputyEngineer);
    }

    protected static RecordCorrected Correction(CloudEvent sent, CloseUpInspected right) => new(sent.RecordId, 1, sent.Type, FactCatalog.Write(right),
        "Mistyped: the sheet and the photo show 2 in and more; measured again with the inspector.", SecondApprover: Plant.DeputyEngineer.Id);
}
