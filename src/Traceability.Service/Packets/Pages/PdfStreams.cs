using System.IO.Compression;
using PdfSharp.Pdf;
using PdfSharp.Pdf.IO;

namespace Traceability.Service.Packets.Pages;

/// <summary>
/// PDFsharp 6.2 ends its compressed streams without the last block and checksum that RFC 1950 asks for; lenient readers
/// accept that, checking ones warn. So it writes them plain, and they are compressed here.
/// </summary>
internal static class PdfStreams
{
    public static byte[] Write(PdfDocument document)
    {
        using var plain = new MemoryStream();
        Plain(document).Save(plain, closeStream: false);
        plain.Position = 0;
        using var again = PdfReader.Open(plain, PdfDocumentOpenMode.Modify);
        foreach (var item in again.Internals.GetAllObjects().OfType<PdfDictionary>())
        {
            if (item.Stream is not { Value.Length: > 0 } stream || item.Elements.ContainsKey("/Filter")) continue;
            stream.Value = Compressed(stream.Value);
            item.Elements.SetName("/Filter", "/FlateDecode");
            item.Elements.SetInteger("/Length", stream.Value.Length);
        }

        using var result = new MemoryStream();
        Plain(again).Save(result, closeStream: false);
        return result.ToArray();
    }

    private static PdfDocument Plain(PdfDocument document)
    {
        document.Options.NoCompression = true;
        document.Options.CompressContentStreams = false;
        return document;
    }

    private static byte[] Compressed(byte[] bytes)
    {
        using var target = new MemoryStream();
        using (var zlib = new ZLibStream(target, CompressionLevel.Optimal, leaveOpen: true)) zlib.Write(bytes);
        return target.ToArray();
    }
}
