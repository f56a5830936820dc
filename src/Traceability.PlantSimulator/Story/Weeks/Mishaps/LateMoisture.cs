using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>The laboratory's moisture comes a day after the pour and is wetter than the probe's: the water to cement ratio was over the mix's.</summary>
internal sealed class LateMoisture(Scene scene) : UnitLife(scene, Culverts.Box, "BC-0006", scene.At(2, DayOfWeek.Thursday), Culverts.Second), IChapter
{
    private const string Chapter = "A late laboratory moisture";

    public void Tell()
    {
        Live();
        var dried = PourDay.AddDays(1).AddHours(9);
        Scene.Expect(new FindingExpected(Chapter, dried.AddMinutes(-5), Serial, "place.w-cm", Verdict.Provisional));
        Scene.Expect(new FindingExpected(Chapter, dried.AddHours(1), Serial, "place.w-cm", Verdict.NotMet));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Held));
        Scene.Expect(new PlaceExpected(Chapter, null, Serial, UnitPhase.InYard));
    }

    protected override List<BatchTicketed> Batches()
    {
        // The usual bin ran empty: the sand of these batches alone comes from the second one, filled after a wet night.
        var lot = new LotId("pit-1", "FA-79");
        Scene.Send(Plant.Receiving, Plant.Receiver, PourAt.AddHours(-4), new LotReceived(lot, Material.FineAggregate, "Natural sand", null, null, "D-FA-79"));
        Scene.Send(Plant.Receiving, Plant.Receiver, PourAt.AddHours(-3.9), new StorageFilled(Stores.SecondSandBin, lot, Material.FineAggregate));
        Scene.Send(Plant.BatchHouse, Plant.BatchOperator, PourAt.AddMinutes(-25), new StorageSwitched(Material.FineAggregate, Stores.SandBin, Stores.SecondSandBin));
        Scene.Send(Plant.BatchHouse, Plant.BatchOperator, PourAt.AddMinutes(70), new StorageSwitched(Material.FineAggregate, Stores.SecondSandBin, Stores.SandBin));
        var dried = PourDay.AddDays(1).AddHours(9);
        Scene.Send(Plant.Laboratory, Plant.FieldTechnician, dried, new AggregateMoistureTested("MO-0312", "storage:" + Stores.SecondSandBin, PourAt.AddMinutes(-20), R("812.4"), R("761.4"), [Tools.Oven], R("1.2")));
        var tickets = new List<BatchTicketed>();
        for (var i = 0; i < Product.Batches; i++)
        {
            var ticket = Concrete.Ticket(PourAt.AddMinutes(13 * i), Product.YardsABatch, sandMoisturePct: 4.6m, sandBin: Stores.SecondSandBin);
            var sent = Concrete.Send(ticket);
            Concrete.Accept(ticket.Batch, ticket.ChargedAt.AddMinutes(7));
            var settled = ticket with
            {
                MoistureBasis = MoistureBasis.Laboratory,
                Ingredients = [.. ticket.Ingredients.Select(g => g.Name == "sand" ? g with { MoisturePct = R("6.7") } : g)],
            };
            Scene.Office(dried.AddMinutes(15 + i), new RecordCorrected(sent.RecordId, 1, sent.Type, FactCatalog.Write(settled), "Moisture of the sand by drying, test MO-0312, in place of the probe's."));
            tickets.Add(ticket);
        }

        return tickets;
    }

    public override void Ship(DateTimeOffset at) => Release(HoldKind.Ship, at.AddMinutes(-30), refused: true);
}
