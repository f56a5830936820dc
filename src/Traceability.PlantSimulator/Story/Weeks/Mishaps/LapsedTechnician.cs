using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>The technician's certificate ran out on the day before the job began. The test does not count; the unit stays in the yard.</summary>
internal sealed class LapsedTechnician(Scene scene) : UnitLife(scene, Culverts.Box, "BC-0002", scene.At(1, DayOfWeek.Thursday), Culverts.Second), IChapter
{
    private const int FiveYearsAndADay = 1828;

    public void Tell()
    {
        var issued = Scene.DaysAgo(FiveYearsAndADay);
        Scene.Office(Scene.At(1, DayOfWeek.Monday, 7.9), new PersonCertified(Plant.LapsedTechnician.Id, Certification.FieldTestingTechnician, "Invented certifying body", issued, issued.AddYears(5).AddDays(-1)));
        Live();
        Scene.Expect(new FindingExpected("A lapsed technician", null, Serial, "place.tester", Verdict.NotMet, Plant.LapsedTechnician.Id));
        Scene.Expect(new HoldExpected("A lapsed technician", null, Serial, HoldKind.Ship, HoldState.Held));
        Scene.Expect(new PlaceExpected("A lapsed technician", null, Serial, UnitPhase.InYard));
        Scene.Expect(new RecallExpected("A lapsed technician", null, "person:" + Plant.LapsedTechnician.Id, [Serial], []));
    }

    protected override void SendSample(SampleTested sample) => SendSample(sample, Plant.LapsedTechnician);

    public override void Ship(DateTimeOffset at) => Release(HoldKind.Ship, at.AddMinutes(-30), refused: true);
}
