using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>
/// Cylinders are made from a load that is then sent back. Nothing of it is in the unit, so they stand for nothing; the unit
/// has strip and ship cylinders of an accepted load, and none for its acceptance.
/// </summary>
internal sealed class CylindersOfRejected(Scene scene) : UnitLife(scene, Culverts.Box, "BC-0010", scene.At(3, DayOfWeek.Thursday), Culverts.Second), IChapter
{
    private const string Chapter = "Cylinders cast from a rejected load";

    private string Stray => SampleId + "-A";

    public void Tell()
    {
        Live();
        Scene.Expect(new RecallExpected(Chapter, null, "sample:" + Stray, [], []));
        Scene.Expect(new FindingExpected(Chapter, null, Serial, "acceptance.strength", Verdict.Missing));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Acceptance, HoldState.Held));
    }

    protected override SampleTested Place()
    {
        var tickets = Enumerable.Range(0, 3).Select(i => Concrete.Ticket(PourAt.AddMinutes(12 * i), Product.YardsABatch)).ToList();
        foreach (var ticket in tickets) Concrete.Send(ticket);
        var stray = Concrete.Fresh(Stray, tickets[0].Batch, PourAt.AddMinutes(9)) with { TemperatureF = R("97") };
        Scene.Send(Plant.Laboratory, Plant.FieldTechnician, stray.SampledAt.AddMinutes(15), stray);
        Scene.Send(Plant.Laboratory, Plant.FieldTechnician, stray.SampledAt.AddMinutes(16), new LoadRejected(tickets[0].Batch, "97 F; sent back before any was placed.", "All of it into the wash-out."));
        foreach (var ticket in tickets.Skip(1)) Concrete.Accept(ticket.Batch, ticket.ChargedAt.AddMinutes(7));
        var sample = Concrete.Fresh(SampleId, tickets[1].Batch, PourAt.AddMinutes(24));
        sample = sample with { Cylinders = [.. sample.Cylinders.Where(c => c.Purpose is CylinderPurpose.Strip or CylinderPurpose.Ship)] };
        SendSample(sample);
        Scene.Send(Plant.Laboratory, Plant.FieldTechnician, PourAt.AddHours(2), new CylinderDamaged(Stray, "SP1", "Mould kicked over."));
        Scene.Send(Plant.Laboratory, Plant.FieldTechnician, PourAt.AddHours(26), new CylinderLost(Stray, "AC3", "Not in the tank when the others were moved."));
        Scene.Send(Plant.Laboratory, Plant.FieldTechnician, PourAt.AddHours(26.2), new CylindersMoved(Stray, ["AC1", "AC2"], "shelf of samples without a unit"));
        Placed(tickets.Skip(1).Select(t => (t.Batch, Product.YardsABatch)));
        return sample;
    }

    protected override void Accept(SampleTested sample)
    {
        var month = PourAt.AddDays(28).AddMinutes(30);
        for (var i = 1; i <= 2; i++) Concrete.Break(Stray, $"AC{i}", month.AddMinutes(6 * i), 6600, 7300);
    }
}
