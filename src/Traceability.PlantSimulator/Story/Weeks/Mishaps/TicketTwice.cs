using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A batch ticket arrives over the network, and hours later again out of a file, under another id. It counts once.</summary>
internal sealed class TicketTwice(Scene scene) : UnitLife(scene, Frames.WingWall, "WW-0002", scene.At(2, DayOfWeek.Wednesday), 1), IChapter
{
    public void Tell()
    {
        Live();
        Scene.Expect(new HoldExpected("A batch ticket twice", null, Serial, HoldKind.Ship, HoldState.Released, Contradicted: false));
        Scene.Expect(new AllowedExpected("A batch ticket twice", null, Serial, "place.represented"));
    }

    protected override List<BatchTicketed> Batches()
    {
        var tickets = base.Batches();
        Scene.Send(Plant.TicketFiles, Plant.BatchOperator, tickets[0].ChargedAt.AddHours(3), tickets[0]);
        return tickets;
    }
}
