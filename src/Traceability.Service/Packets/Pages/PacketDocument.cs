namespace Traceability.Service.Packets.Pages;

/// <summary>The PDF: cover, index, heats, the forms of each unit, proof, certification.</summary>
internal static class PacketDocument
{
    // PDFsharp keeps fonts in tables of the process; one document at a time also bounds the memory.
    private static readonly Lock One = new();

    public static byte[] Write(PacketMatter packet)
    {
        lock (One) return Lay(packet);
    }

    private static byte[] Lay(PacketMatter packet)
    {
        var request = packet.Request;
        var contract = packet.Contract is { } c ? $"{packet.ContractId}, {c.Fact.Title}" : packet.ContractId;
        var paper = new Paper(PacketFonts.ForDocument(), new PaperMarks(packet.Template.Title, request.Packet, contract,
            $"{request.Plant}. Packet {request.Packet}, issued {Figures.Time(request.IssuedAt)}", request.Draft));
        FrontPages.Cover(packet, paper);
        FrontPages.Index(packet, paper);
        FrontPages.Heats(packet, paper);
        foreach (var unit in packet.Units) new UnitPages(packet, unit, paper).Write();
        BackPages.Proof(packet, paper);
        BackPages.Certification(packet, paper);
        return paper.Finish($"{(request.Draft ? "DRAFT " : "")}{packet.Template.Title}, {request.Packet}", request.Plant, request.IssuedAt);
    }
}
