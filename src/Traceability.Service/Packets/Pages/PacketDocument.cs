namespace Traceability.Service.Packets.Pages;

/// <summary>The PDF as laid out: its file or its parts, where each form of each unit stands, what it supplements.</summary>
internal sealed record LaidOut(IReadOnlyList<PacketFile> Pdfs, IReadOnlyDictionary<(string Unit, string Form), FormSpan> Forms, SupplementMade? Supplement);

/// <summary>The PDF: cover, index, heats, the forms of each unit, proof, certification. A supplement has the forms that say something else than they did.</summary>
internal static class PacketDocument
{
    // PDFsharp keeps fonts in tables of the process; one document at a time also bounds the memory.
    private static readonly Lock One = new();

    /// <exception cref="PacketRefusedException">A supplement would say nothing new.</exception>
    public static LaidOut Write(PacketMatter packet)
    {
        lock (One) return packet.Request.Supplements is { } earlier ? Supplement(packet, earlier) : Lay(packet, null);
    }

    private static LaidOut Supplement(PacketMatter packet, Supplemented earlier)
    {
        var all = Lay(packet, null).Forms;
        var changed = all.Where(f => earlier.Standing.GetValueOrDefault(f.Key)?.Content != f.Value.Content)
            .Select(f => new ReplacedForm(f.Key.Unit, f.Key.Form, earlier.Standing.GetValueOrDefault(f.Key))).ToList();
        if (changed.Count == 0)
            throw new PacketRefusedException([new("packet", $"{earlier.Packet} and its supplements say what would be said now: no form has changed", "Issue the supplement when a result or another record has come.")]);
        return Lay(packet, new SupplementMade(earlier.Packet, earlier.Number, changed, packet.Answered));
    }

    /// <summary>The heats of all units stand beside the forms of steel: where none of those changed, neither did they.</summary>
    public static bool HasHeats(PacketMatter packet, SupplementMade? supplement) =>
        supplement is null || supplement.Forms.Any(f => packet.Template.Forms.First(t => t.Number == f.Form).Section == PacketSection.Steel);

    private static LaidOut Lay(PacketMatter packet, SupplementMade? supplement)
    {
        var request = packet.Request;
        var contract = packet.Contract is { } c ? $"{packet.ContractId}, {c.Fact.Title}" : packet.ContractId;
        var paper = new Paper(PacketFonts.ForDocument(), new PaperMarks(packet.Template.Title, "Packet " + request.Packet, contract,
            $"{request.Plant}. {(supplement is null ? "Packet" : "Supplement")} {request.Packet}, issued {Figures.Time(request.IssuedAt)}", request.Draft));
        FrontPages.Cover(packet, supplement, paper);
        FrontPages.Index(packet, supplement, paper);
        if (HasHeats(packet, supplement)) FrontPages.Heats(packet, paper);
        foreach (var unit in packet.Units)
        {
            var forms = supplement?.Forms.Where(f => f.Unit == unit.Id).Select(f => f.Form).ToHashSet(StringComparer.Ordinal);
            if (forms is null or { Count: > 0 }) new UnitPages(packet, unit, paper).Write(forms);
        }

        BackPages.Proof(packet, paper);
        BackPages.Certification(packet, paper);
        var pdf = paper.Finish($"{(request.Draft ? "DRAFT " : "")}{packet.Template.Title}, {request.Packet}", request.Plant, request.IssuedAt);
        var spans = packet.Units.SelectMany(u => packet.Template.Forms.Select(f => (Key: (u.Id, f.Number), Span: paper.Forms.GetValueOrDefault(UnitPages.Anchor(u, f)))))
            .Where(f => f.Span is not null).ToDictionary(f => f.Key, f => f.Span!);
        return new LaidOut(PdfParts.Of(pdf, packet.Template.LargestPdfKilobytes * 1024L), spans, supplement);
    }
}
