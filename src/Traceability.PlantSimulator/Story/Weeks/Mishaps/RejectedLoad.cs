using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A load segregates and is rejected when half a yard of it is already in the unit.</summary>
internal sealed class RejectedLoad(Scene scene) : FrameOfRevisionC(scene, "RF-0007", scene.At(4, DayOfWeek.Tuesday)), IChapter
{
    private const string Chapter = "A rejected load, some of it in the unit", Nonconformance = "NC-0004";

    private BatchId _rejected = null!;

    public void Tell()
    {
        Live();
        Scene.Expect(new FindingExpected(Chapter, null, Serial, "place.rejected-concrete", Verdict.NotMet, _rejected.Ticket));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Held));
        Scene.Expect(new PlaceExpected(Chapter, null, Serial, UnitPhase.InYard));
        Scene.Expect(new RecallExpected(Chapter, null, $"batch:{_rejected.Plant}/{_rejected.Ticket}/{_rejected.Date:yyyy-MM-dd}", [Serial], []));
    }

    protected override SampleTested Place()
    {
        var tickets = Enumerable.Range(0, 4).Select(i => Concrete.Ticket(PourAt.AddMinutes(11 * i), Product.YardsABatch)).ToList();
        foreach (var ticket in tickets) Concrete.Send(ticket);
        _rejected = tickets[1].Batch;
        foreach (var ticket in tickets.Where(t => t.Batch != _rejected)) Concrete.Accept(ticket.Batch, ticket.ChargedAt.AddMinutes(7));
        Scene.Send(Plant.Laboratory, Plant.FieldTechnician, tickets[1].ChargedAt.AddMinutes(16), new LoadRejected(_rejected, "Stability index 3: a halo and a mortar pile.", "2 1/2 yards into the wash-out."));
        Placed([(tickets[0].Batch, "3.0"), (_rejected, "0.5"), (tickets[2].Batch, "3.0"), (tickets[3].Batch, "2.5")]);
        Inspect(PourAt.AddHours(1.5), new NonconformanceRaised(Nonconformance, [Serial], NonconformanceClass.Major, Structural: true, "Half a yard of a rejected load is in the second lift.", "place.rejected-concrete"));
        return Sample(tickets[0].Batch);
    }

    // The engineer of record has not answered: it stays in the yard.
    public override void Ship(DateTimeOffset at) => Release(HoldKind.Ship, at.AddMinutes(-30), refused: true);
}
