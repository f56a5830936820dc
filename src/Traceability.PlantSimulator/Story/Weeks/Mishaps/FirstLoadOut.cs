using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;
using static Traceability.PlantSimulator.Story.Weeks.Readings;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>The first load's air is out of limits; it is tested again from the same load, and is inside.</summary>
internal sealed class FirstLoadOut(Scene scene) : UnitLife(scene, Frames.WingWall, "WW-0001", scene.At(2, DayOfWeek.Monday), 1), IChapter
{
    private const string Chapter = "A first load out of limits, tested again";

    private string First => SampleId + "-A";

    public void Tell()
    {
        Live();
        Scene.Expect(new FindingExpected(Chapter, null, Serial, "place.air", Verdict.Met, "Retested at once"));
        Scene.Expect(new HoldExpected(Chapter, null, Serial, HoldKind.Ship, HoldState.Released, Contradicted: false));
    }

    protected override SampleTested Place()
    {
        var tickets = Batches();
        var again = Concrete.Fresh(SampleId, tickets[0].Batch, PourAt.AddMinutes(22));
        var first = Concrete.Fresh(First, tickets[0].Batch, PourAt.AddMinutes(10)) with { Cylinders = [], AirGaugePct = R("9.2") };
        Scene.Send(Plant.Laboratory, Plant.FieldTechnician, first.SampledAt.AddMinutes(8), first);
        SendSample(again with { RetestOf = First });
        Scene.Send(Plant.Laboratory, Plant.FieldTechnician, PourAt.AddMinutes(24), new AgencySampleTaken(tickets[0].Batch, "N-204", "three 4x8 cylinders"));
        Placed(tickets.Select(t => (t.Batch, Product.YardsABatch)));
        return again;
    }
}
