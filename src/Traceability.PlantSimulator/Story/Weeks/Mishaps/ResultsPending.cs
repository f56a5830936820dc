using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A culvert is delivered with its 28-day result pending; the packet says so, and a supplement answers it when it comes.</summary>
internal sealed class ResultsPending(Scene scene) : UnitLife(scene, Culverts.Box, "BC-0001", scene.At(1, DayOfWeek.Thursday), Culverts.First), IChapter
{
    private const string Chapter = "A delivery with results pending, and its supplement", Packet = "PK-8802-1";

    public void Tell()
    {
        Live();
        var issued = PourAt.AddDays(8);
        var pending = new PendingItem(Serial, "acceptance.strength", "sample:" + SampleId);
        Scene.Office(PourAt.AddDays(7).AddHours(4), new LoadCertificateIssued(Delivery, [Serial], Books.Hash($"certificate {Serial}")));
        Scene.Office(issued, new RecordPacketIssued(Packet, [Serial], Books.Hash($"packet {Serial}"), [pending]));
        var answered = PourAt.AddDays(29);
        Scene.Office(answered, new SupplementIssued(Packet, 1, [Serial], Books.Hash($"supplement {Serial}"), "pages 3 and 14", [pending]));
        Scene.Expect(new FindingExpected(Chapter, issued, Serial, "acceptance.strength", Verdict.Pending));
        Scene.Expect(new FindingExpected(Chapter, null, Serial, "acceptance.strength", Verdict.Met));
        Scene.Expect(new FindingExpected(Chapter, PourAt.AddDays(28).AddHours(3), Serial, "acceptance.supplements", Verdict.Pending));
        Scene.Expect(new AllowedExpected(Chapter, null, Serial, "acceptance.supplements"));
    }
}
