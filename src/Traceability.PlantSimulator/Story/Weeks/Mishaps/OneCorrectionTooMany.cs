using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>Two people correct one version of one reading, each at a desk that did not see the other. Neither counts until one of the corrections is withdrawn.</summary>
internal sealed class OneCorrectionTooMany(Scene scene) : Mistyped(scene, "BC-0009", scene.At(3, DayOfWeek.Thursday), Culverts.First)
{
    private const string Chapter = "One correction too many";

    public override void Tell()
    {
        Live();
        var asked = Corrected.AddMinutes(60);
        Release(HoldKind.Pour, asked, refused: true);
        Scene.Expect(new HoldExpected(Chapter, asked, Serial, HoldKind.Pour, HoldState.Held));
        Scene.Expect(new FindingExpected(Chapter, null, Serial, "close-up.cover", Verdict.Met, "C1, near end"));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Released, Contradicted: false));
    }

    protected override void Correct(CloudEvent sent, CloseUpInspected right)
    {
        Scene.Office(Corrected, Correction(sent, right) with { SecondApprover = null });
        var other = right with { Covers = [right.Covers[0] with { CoverIn = R("2 3/16") }, .. right.Covers.Skip(1)] };
        var second = Scene.Send(Plant.Office, Plant.DeputyEngineer, Corrected.AddMinutes(7), Correction(sent, other) with { SecondApprover = null });
        Scene.Office(Corrected.AddMinutes(85), new RecordWithdrawn(second.RecordId, 1, "Made while the other correction was on its way; that one is right."));
    }
}
