using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A cover reading is out of tolerance and right; the engineer of record and the department accept it by letter before the pour.</summary>
internal sealed class CoverOut(Scene scene) : UnitLife(scene, Frames.Frame, "RF-0004", scene.At(2, DayOfWeek.Thursday), 0), IChapter
{
    private const string Chapter = "A cover reading out of tolerance", Nonconformance = "NC-0001", Requirement = "close-up.cover";

    public void Tell()
    {
        Live();
        Release(HoldKind.Pour, Letter.AddMinutes(-40), refused: true);
        Scene.Expect(new FindingExpected(Chapter, Letter.AddMinutes(-30), Serial, Requirement, Verdict.NotMet, "A1, near end"));
        Scene.Expect(new FindingExpected(Chapter, null, Serial, Requirement, Verdict.NotMetAccepted, "A1, near end"));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Pour, HoldState.Released, Contradicted: false));
    }

    private DateTimeOffset Letter => PourDay.AddHours(10.1);

    protected override void CloseUp()
    {
        base.CloseUp();
        var at = Morning.AddMinutes(84);
        Inspect(at, new NonconformanceRaised(Nonconformance, [Serial], NonconformanceClass.Major, Structural: true, "Cover of A1 at the near end 1 3/8 in, 2 in drawn.", Requirement));
        var disposed = new NonconformanceDisposed(Nonconformance, DispositionKind.UseAsIs, "Flexural strength at the measured depth calculated; accepted by the engineer of record.");
        var content = new { nonconformance = Nonconformance, disposition = "use-as-is", procedure = disposed.Procedure };
        // It is structural: without the engineer of record's letter nobody decides it.
        Scene.Decide(at.AddMinutes(20), Plant.QualityEngineer, "decisions/dispositions", content, disposed, refused: true);
        Scene.Decide(Letter.AddMinutes(2), Plant.QualityEngineer, "decisions/dispositions", content, disposed);
        Scene.Office(Letter, new NonconformanceApproved(Nonconformance, Approver.EngineerOfRecord, "Invented letter E-31", Letter.AddMinutes(-10), [new AcceptedFinding(Requirement)], "Coat the face with the invented sealer before backfill."));
        AgencyActs(Letter.AddMinutes(4), new AgencyAccepted(Serial, [new AcceptedFinding(Requirement)], "Invented letter N-77", Scene.Date(PourDay)));
        Scene.Office(Letter.AddMinutes(8), new NonconformanceClosed(Nonconformance, "Accepted as it is by both letters."));
    }

    protected override CloseUpInspected Inspected(CloseUpInspected usual) =>
        usual with { Covers = [usual.Covers[0] with { CoverIn = R("1 3/8") }, .. usual.Covers.Skip(1)] };
}
