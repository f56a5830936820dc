using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.PlantSimulator.Story.Weeks.Lines;

namespace Traceability.PlantSimulator.Story.Weeks.Mishaps;

/// <summary>A frame is delivered with its 28-day result pending; the packet says so, and a supplement answers it when it comes.</summary>
internal sealed class ResultsPending(Scene scene) : UnitLife(scene, Frames.Frame, "RF-0001", scene.At(1, DayOfWeek.Thursday), 0), IChapter
{
    private const string Chapter = "A delivery with results pending, and its supplement";

    public void Tell()
    {
        Live();
        var issued = PourAt.AddDays(8);
        var pending = new PendingItem(Serial, "acceptance.strength", "sample:" + SampleId);
        // The service numbers packets; it is the first of the year.
        var packet = $"PK-{issued.Year}-0001";
        Scene.Decide(PourAt.AddDays(7).AddHours(4), Plant.QualityEngineer, $"deliveries/{Delivery}/certificates", new { }, new LoadCertificateIssued(Delivery, [Serial], Books.Hash($"certificate {Serial}")));
        Scene.Decide(issued, Plant.QualityEngineer, "packets", new { units = new[] { Serial } }, new RecordPacketIssued(packet, [Serial], Books.Hash($"packet {Serial}"), [pending]));
        Scene.Decide(PourAt.AddDays(29), Plant.QualityEngineer, $"packets/{packet}/supplements", new { }, new SupplementIssued(packet, 1, [Serial], Books.Hash($"supplement {Serial}"), "pages 3 and 14", [pending]));
        Scene.Expect(new FindingExpected(Chapter, issued, Serial, "acceptance.strength", Verdict.Pending));
        Scene.Expect(new FindingExpected(Chapter, null, Serial, "acceptance.strength", Verdict.Met));
        Scene.Expect(new FindingExpected(Chapter, PourAt.AddDays(28).AddHours(3), Serial, "acceptance.supplements", Verdict.Pending));
        Scene.Expect(new AllowedExpected(Chapter, null, Serial, "acceptance.supplements"));
    }
}
