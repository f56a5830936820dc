using PdfSharp.Pdf;
using PdfSharp.Pdf.IO;

namespace Traceability.Service.Packets.Pages;

/// <summary>
/// A PDF in parts that are no larger than an agency takes. The pages keep the numbers printed on them; links from page to page
/// are left out of parts, because most would lead into another file.
/// </summary>
internal static class PdfParts
{
    /// <param name="largest">Bytes; null for no limit.</param>
    public static IReadOnlyList<PacketFile> Of(byte[] pdf, long? largest)
    {
        if (largest is not { } limit || pdf.Length <= limit) return [new(Packet.Pdf, pdf)];
        using var whole = PdfReader.Open(new MemoryStream(pdf), PdfDocumentOpenMode.Import);
        // Fonts stand in every part, so an even share of the bytes is only where to begin.
        for (var parts = (int)(pdf.Length / limit) + 1; ; parts++)
        {
            var pages = (whole.PageCount + parts - 1) / parts;
            var made = Enumerable.Range(0, (whole.PageCount + pages - 1) / pages).Select(i => Part(whole, i * pages, Math.Min(pages, whole.PageCount - i * pages))).ToList();
            // A single page that is too large cannot be made smaller.
            if (pages == 1 || made.TrueForAll(p => p.Length <= limit)) return [.. made.Select((p, i) => new PacketFile(Packet.Part(i + 1), p))];
        }
    }

    private static byte[] Part(PdfDocument whole, int from, int count)
    {
        using var part = new PdfDocument();
        part.Info.Title = whole.Info.Title;
        part.Info.Author = whole.Info.Author;
        part.Info.CreationDate = whole.Info.CreationDate;
        part.Info.ModificationDate = whole.Info.ModificationDate;
        for (var i = from; i < from + count; i++) part.AddPage(whole.Pages[i]);
        return PdfStreams.Write(part);
    }
}
