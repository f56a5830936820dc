using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Acceptance;

/// <summary>Everything that a packet of the unit said is still to come was sent in a supplement. Needs: packets issued, supplements issued.</summary>
public sealed class Supplements : IRequirement
{
    private static readonly Citation Source = new("Pending items of a delivery are supplied afterwards", SourceMark.CommonPractice);

    public string Id => "acceptance.supplements";
    public HoldKind Hold => HoldKind.Acceptance;
    public string Title => "Supplements sent";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Id;
        var packets = matter.File.Of<RecordPacketIssued>().Where(p => p.Fact.Units.Contains(unit)).ToList();
        var pending = packets.SelectMany(p => p.Fact.Pending.Where(i => i.Unit == unit).Select(i => (Packet: p, Item: i))).ToList();
        if (pending.Count == 0)
        {
            yield return Matter.Finding(this, matter.File.Unit.Key, packets.Count == 0 ? Verdict.NotApplicable : Verdict.Met, packets.Count == 0 ? "No packet of this unit was issued." : "No packet of this unit left anything pending.", Source)
                with { Used = [.. packets.Select(p => p.Id)] };
        }

        foreach (var (packet, item) in pending)
        {
            var answers = matter.File.Of<SupplementIssued>().Where(s => s.Fact.Packet == packet.Fact.Packet && s.Fact.Answers.Contains(item)).ToList();
            var met = answers.Count > 0;
            yield return Matter.Finding(this, $"{matter.File.Unit.Key} packet {packet.Fact.Packet}: {item.Requirement} {item.Subject}", met ? Verdict.Met : Verdict.Pending,
                met ? $"Sent in supplement {answers[0].Fact.Number}." : $"Packet {packet.Fact.Packet} left it pending and no supplement answers it.", Source)
                with { Clear = met ? "" : "The quality engineer issues the supplement when the result is there.", Used = [packet.Id, .. answers.Select(a => a.Id)] };
        }
    }
}
