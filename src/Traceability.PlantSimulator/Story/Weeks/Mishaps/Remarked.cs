using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A section allocated to the road is re-marked to the bridge: judged anew, its least cover is too little for that department.</summary>
internal sealed class Remarked(Scene scene, string serial) : IChapter
{
    private const string Chapter = "A re-marked unit";

    public void Tell()
    {
        var at = scene.At(7, DayOfWeek.Tuesday, 11);
        var remarked = new UnitRemarked(serial, Books.Bridge.Id, "MH-B", "The bridge's drain needs one more section.");
        scene.Decide(at, Plant.QualityEngineer, "decisions/allocations", new { unit = serial, contract = remarked.Contract, mark = remarked.Mark, reason = remarked.Reason }, remarked);
        scene.Expect(new AllowedExpected(Chapter, at.AddMinutes(-5), serial, "close-up.cover"));
        scene.Expect(new FindingExpected(Chapter, null, serial, "close-up.cover", Verdict.NotMet));
        scene.Expect(new HoldExpected(Chapter, null, serial, HoldKind.Ship, HoldState.Held));
        scene.Expect(new PlaceExpected(Chapter, null, serial, UnitPhase.InYard));
    }
}
