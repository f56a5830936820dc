using PdfSharp.Drawing;
using PdfSharp.Fonts;
using PdfSharp.Pdf;

namespace Traceability.Service.Packets.Pages;

internal enum Face { Regular, Bold, Mono }

/// <summary>
/// The faces of a packet, from files shipped inside the service (Liberation, SIL Open Font License 1.1), so that a packet
/// looks the same wherever it is made. PDFsharp finds no system fonts outside Windows.
/// </summary>
internal sealed class PacketFonts : IFontResolver
{
    private const string Sans = "Packet Sans", Mono = "Packet Mono";

    private static readonly Lazy<bool> Set = new(() =>
    {
        GlobalFontSettings.FontResolver ??= new PacketFonts();
        return true;
    });

    private readonly Dictionary<(Face, double), XFont> _fonts = [];
    private readonly Dictionary<(Face, double), Dictionary<int, double>> _widths = [];
    private readonly XGraphics? _measure;

    private PacketFonts() { }

    /// <summary>Fonts of one document. Not shared between threads.</summary>
    public static PacketFonts ForDocument()
    {
        _ = Set.Value;
        return new PacketFonts(XGraphics.CreateMeasureContext(new XSize(612, 792), XGraphicsUnit.Point, XPageDirection.Downwards));
    }

    private PacketFonts(XGraphics measure) => _measure = measure;

    public XFont Font(Face face, double size)
    {
        if (!_fonts.TryGetValue((face, size), out var font))
        {
            // Unicode: a remark may hold letters that the one-byte encoding has none for.
            font = new XFont(face == Face.Mono ? Mono : Sans, size, face == Face.Bold ? XFontStyleEx.Bold : XFontStyleEx.Regular, new XPdfFontOptions(PdfFontEncoding.Unicode));
            _fonts[(face, size)] = font;
        }

        return font;
    }

    /// <summary>Width in points. Advance widths add up: the faces are set without kerning.</summary>
    public double Width(string text, Face face, double size)
    {
        if (!_widths.TryGetValue((face, size), out var widths)) _widths[(face, size)] = widths = [];
        var width = 0.0;
        foreach (var rune in text.EnumerateRunes())
        {
            if (!widths.TryGetValue(rune.Value, out var one))
                widths[rune.Value] = one = _measure!.MeasureString(rune.ToString(), Font(face, size), XStringFormats.Default).Width;
            width += one;
        }

        return width;
    }

    public FontResolverInfo? ResolveTypeface(string familyName, bool isBold, bool isItalic) => familyName switch
    {
        Mono => new FontResolverInfo("LiberationMono-Regular.ttf"),
        _ => new FontResolverInfo(isBold ? "LiberationSans-Bold.ttf" : "LiberationSans-Regular.ttf"),
    };

    public byte[]? GetFont(string faceName) => PacketResources.Bytes("Fonts." + faceName);
}
