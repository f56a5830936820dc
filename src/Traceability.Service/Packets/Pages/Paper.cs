using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using System.Text.RegularExpressions;
using PdfSharp.Drawing;
using PdfSharp.Pdf;

namespace Traceability.Service.Packets.Pages;

internal sealed record Column(string Title, double Share, bool Right = false);

/// <param name="Small">A second, smaller text under the first, for example the SI value.</param>
/// <param name="Anchor">Name of a place whose page number stands in the text at "{page}".</param>
internal readonly record struct Cell(string Text, Face Face = Face.Regular, string? Small = null, string? Anchor = null)
{
    public static implicit operator Cell(string text) => new(text);

    public static Cell Strong(string text) => new(text, Face.Bold);
}

/// <summary>
/// A stack of letter sheets that fills from the top: text, tables that break over pages with their head repeated, small
/// drawings. Page numbers and the total are set when everything is laid out, so one pass is enough.
/// </summary>
internal sealed partial class Paper(PacketFonts fonts, PaperMarks marks)
{
    public const double Width = 612, Height = 792, Left = 54, Right = 36, Top = 84, Bottom = 52;
    public const double Inner = Width - Left - Right, Floor = Height - Bottom;
    private const double HeadingHeight = 21.5, KeepWhole = 230, Pad = 2.6, Leading = 1.22;
    public const double Body = 8.6, TableSize = 7.6, SmallSize = 6.6;

    private static readonly XPen Hair = new(XColor.FromGrayScale(0.55), 0.35), Rule = new(XColors.Black, 0.8), Heavy = new(XColors.Black, 1.2);
    private static readonly XBrush Ink = XBrushes.Black, Shade = new XSolidBrush(XColor.FromGrayScale(0.92)), Ghost = new XSolidBrush(XColor.FromGrayScale(0.88));

    private readonly List<Sheet> _sheets = [];
    private readonly Dictionary<string, int> _anchors = new(StringComparer.Ordinal);
    private readonly List<(string Title, int Page, int Level)> _outline = [];
    private readonly Dictionary<string, FormSpan> _forms = new(StringComparer.Ordinal);
    private readonly StringBuilder _content = new();
    private (string Anchor, int From)? _open;
    private string _units = "";
    private string _form = "";
    private string? _heading;
    private double _y;

    private sealed record Sheet(string Units, string Form, List<Action<XGraphics, PdfPage>> Ops);

    public PacketFonts Fonts => fonts;

    /// <summary>Room left on the sheet, points.</summary>
    public double Room => Floor - _y;

    /// <summary>Starts a new sheet that belongs to these units.</summary>
    public void NewSheet(string units, string form = "")
    {
        EndForm();
        _units = units;
        _form = "";
        Turn();
        _form = form;
    }

    /// <summary>Pages so far.</summary>
    public int Pages => _sheets.Count;

    /// <summary>Names this place, for page numbers elsewhere and for the outline.</summary>
    public void Mark(string anchor, string? outline = null, int level = 0)
    {
        _anchors.TryAdd(anchor, _sheets.Count);
        if (outline is not null) _outline.Add((outline, _sheets.Count, level));
    }

    public bool Has(string anchor) => _anchors.ContainsKey(anchor);

    /// <summary>Room for the next block on one sheet, its heading with it.</summary>
    private void Need(double height)
    {
        if (Room < height + (_heading is null ? 0 : HeadingHeight)) Turn();
        SetHeading();
    }

    private void SetHeading()
    {
        if (_heading is not { } text) return;
        _heading = null;
        if (_y > Top + 1) _y += 7;
        _y += 9.5;
        Put(text, Left, _y, Face.Bold, 9.5);
        _y += 5;
    }

    public void Space(double height) => _y += height;

    /// <summary>The head of a form: number and title in a frame, on this sheet while enough of it is left.</summary>
    public void FormHead(string anchor, string number, string title, string unit, string clause, double need = 190)
    {
        SetHeading();
        EndForm();
        _form = "";
        if (_y > Top + 1)
        {
            if (Room < need) Turn();
            else _y += 14;
        }

        Mark(anchor, $"{number} {title}", 1);
        _open = (anchor, _sheets.Count);
        Says(number, title, unit, clause);
        var y = _y;
        const double height = 30;
        Op(g => g.DrawRectangle(Heavy, Shade, Left, y, Inner, height));
        Put(number, Left + 6, y + 12.5, Face.Bold, 9);
        Put(title, Left + 6, y + 24, Face.Bold, 10);
        PutRight(unit, Left + Inner - 6, y + 12.5, Face.Bold, 9);
        PutRight(clause, Left + Inner - 6, y + 24, Face.Regular, 7.5);
        _y += height + 6;
        _form = $"{number} {title}";
    }

    public void Title(string text, double size)
    {
        foreach (var line in Wrap(text, Face.Bold, size, Inner))
        {
            Need(size * Leading);
            _y += size;
            Put(line, Left, _y, Face.Bold, size);
            _y += size * 0.3;
        }
    }

    /// <summary>A heading; it is set together with what follows it, so that it never stands alone at the foot of a sheet.</summary>
    public void Heading(string text)
    {
        SetHeading();
        Says(text);
        _heading = text;
    }

    public void Paragraph(string text, double size = Body, Face face = Face.Regular, double indent = 0)
    {
        Says(text);
        foreach (var line in Wrap(text, face, size, Inner - indent))
        {
            Need(size * Leading);
            _y += size;
            Put(line, Left + indent, _y, face, size);
            _y += size * (Leading - 1);
        }

        _y += 3;
    }

    /// <summary>Text as it is, line by line, in the fixed-width face; long lines are broken where they must be.</summary>
    public void Verbatim(string text, double size = 7)
    {
        Says(text);
        foreach (var line in text.Split('\n'))
        {
            var rest = Wrap(line, Face.Mono, size, Inner - 12).DefaultIfEmpty("");
            foreach (var part in rest)
            {
                Need(size * Leading);
                _y += size;
                Put(part, Left + 8, _y, Face.Mono, size);
                _y += size * (Leading - 1);
            }
        }

        _y += 3;
    }

    /// <summary>A framed notice.</summary>
    public void Notice(string head, string text, double size = 8)
    {
        Says(head, text);
        var lines = Wrap(text, Face.Regular, size, Inner - 14).ToList();
        var height = 6 + size * Leading * (lines.Count + 1) + 4;
        Need(height + 4);
        var top = _y;
        Op(g => g.DrawRectangle(Rule, Left, top, Inner, height));
        var y = top + 5 + size;
        Put(head, Left + 7, y, Face.Bold, size);
        foreach (var line in lines)
        {
            y += size * Leading;
            Put(line, Left + 7, y, Face.Regular, size);
        }

        _y += height + 6;
    }

    /// <summary>Names and values in two columns of pairs.</summary>
    public void Pairs(IReadOnlyList<(string Name, string Value)> pairs)
    {
        var rows = new List<Cell[]>();
        for (var i = 0; i < pairs.Count; i += 2)
        {
            var second = i + 1 < pairs.Count ? pairs[i + 1] : ("", "");
            rows.Add([Cell.Strong(pairs[i].Name), pairs[i].Value, Cell.Strong(second.Item1), second.Item2]);
        }

        Table([new("", 0.17), new("", 0.33), new("", 0.17), new("", 0.33)], rows, head: false);
    }

    public void Table(IReadOnlyList<Column> columns, IReadOnlyList<Cell[]> rows, bool head = true, bool keep = false)
    {
        foreach (var column in columns) Says(column.Title);
        foreach (var cell in rows.SelectMany(r => r)) Says(cell.Text, cell.Small ?? "");
        var total = columns.Sum(c => c.Share);
        var widths = columns.Select(c => c.Share / total * Inner).ToArray();
        var headLines = columns.Select((c, i) => Wrap(c.Title, Face.Bold, TableSize, widths[i] - 2 * Pad).ToList()).ToArray();
        var headHeight = head ? headLines.Max(l => l.Count) * TableSize * Leading + 2 * Pad : 0;
        var laid = rows.Select(row => row.Select((cell, i) => Lines(cell, widths[i] - 2 * Pad)).ToArray()).ToList();
        var heights = laid.Select(cells => cells.Max(HeightOf) + 2 * Pad).ToList();
        var whole = headHeight + heights.Sum();
        var largest = Floor - Top - HeadingHeight;
        var first = true;
        for (var r = 0; r < rows.Count; r++)
        {
            var (row, cells, height) = (rows[r], laid[r], heights[r]);
            if (first)
            {
                // A short table stays on one sheet; of a long one at least the head and two rows stay together.
                Need(whole <= (keep ? largest : KeepWhole) ? whole : Math.Min(headHeight + heights.Take(2).Sum(), largest));
                if (head) Head(columns, widths, headLines, headHeight);
                first = false;
            }
            else if (Room < height && height <= Floor - Top - headHeight)
            {
                Turn();
                if (head) Head(columns, widths, headLines, headHeight);
            }

            // A row taller than what is left even of a fresh sheet is cut between its lines.
            while (cells.Any(c => c.Count > 0))
            {
                var part = cells.Select(c => TakeLines(c, Room - 2 * Pad)).ToArray();
                if (part.All(p => p.Count == 0))
                {
                    Turn();
                    if (head) Head(columns, widths, headLines, headHeight);
                    continue;
                }

                Row(columns, widths, row, part);
                if (cells.Any(c => c.Count > 0))
                {
                    Turn();
                    if (head) Head(columns, widths, headLines, headHeight);
                }
            }
        }

        _y += 5;
    }

    /// <summary>A frame to draw in; the drawing gets its left, top and width.</summary>
    /// <param name="says">What it shows, in words: two drawings that show the same say the same.</param>
    public void Drawing(double height, string says, Action<XGraphics, double, double, double> draw)
    {
        Says(says);
        Need(height + 6);
        var top = _y;
        Op(g => draw(g, Left, top, Inner));
        _y += height + 6;
    }

    public void SignatureLine(string under)
    {
        Need(44);
        _y += 30;
        var y = _y;
        Op(g => g.DrawLine(Rule, Left, y, Left + Inner * 0.62, y));
        Op(g => g.DrawLine(Rule, Left + Inner * 0.68, y, Left + Inner, y));
        Put(under, Left, y + 9, Face.Regular, 7.5);
        Put("Date", Left + Inner * 0.68, y + 9, Face.Regular, 7.5);
        _y += 14;
    }

    /// <summary>The forms as laid out, by anchor. Complete after <see cref="Finish"/>.</summary>
    public IReadOnlyDictionary<string, FormSpan> Forms => _forms;

    private void Says(params ReadOnlySpan<string> texts)
    {
        if (_open is null) return;
        foreach (var text in texts) _content.Append(text).Append('\n');
    }

    private void EndForm()
    {
        if (_open is not { } open) return;
        // The line of a record in records.jsonl differs from packet to packet; what the form says does not.
        var says = LineNumber().Replace(_content.ToString(), "#");
        _forms[open.Anchor] = new FormSpan(open.From, _sheets.Count, Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(says))));
        _content.Clear();
        _open = null;
    }

    [GeneratedRegex(@"#\d+")]
    private static partial Regex LineNumber();

    /// <summary>Draws every sheet and sets the page numbers.</summary>
    public byte[] Finish(string title, string author, DateTimeOffset made)
    {
        EndForm();
        using var document = new PdfDocument();
        document.Info.Title = title;
        document.Info.Author = author;
        document.Info.CreationDate = made.UtcDateTime;
        document.Info.ModificationDate = made.UtcDateTime;
        var pages = _sheets.Select(_ =>
        {
            var page = document.AddPage();
            page.Width = XUnit.FromPoint(Width);
            page.Height = XUnit.FromPoint(Height);
            return page;
        }).ToList();
        for (var i = 0; i < _sheets.Count; i++)
        {
            using var g = XGraphics.FromPdfPage(pages[i]);
            if (marks.Draft) Watermark(g);
            foreach (var op in _sheets[i].Ops) op(g, pages[i]);
            Margins(g, _sheets[i], i + 1);
        }

        PdfOutline? parent = null;
        foreach (var (text, page, level) in _outline)
        {
            if (level == 0 || parent is null) parent = document.Outlines.Add(text, pages[page - 1], true);
            else parent.Outlines.Add(text, pages[page - 1], true);
        }

        return PdfStreams.Write(document);
    }

    private void Turn()
    {
        var again = _sheets.Count > 0 && _form.Length > 0;
        _sheets.Add(new Sheet(_units, again ? _form + ", continued" : "", []));
        _y = Top;
    }

    private void Op(Action<XGraphics> op) => _sheets[^1].Ops.Add((g, _) => op(g));

    private void Put(string text, double x, double y, Face face, double size) =>
        Op(g => g.DrawString(text, fonts.Font(face, size), Ink, x, y));

    private void PutRight(string text, double x, double y, Face face, double size) =>
        Put(text, x - fonts.Width(text, face, size), y, face, size);

    private void Head(IReadOnlyList<Column> columns, double[] widths, List<string>[] lines, double height)
    {
        var top = _y;
        var x = Left;
        for (var i = 0; i < columns.Count; i++)
        {
            var (left, width) = (x, widths[i]);
            Op(g => g.DrawRectangle(Hair, Shade, left, top, width, height));
            for (var l = 0; l < lines[i].Count; l++) Put(lines[i][l], left + Pad, top + Pad + TableSize * (0.92 + l * Leading), Face.Bold, TableSize);
            x += width;
        }

        _y += height;
    }

    private void Row(IReadOnlyList<Column> columns, double[] widths, Cell[] row, List<Line>[] parts)
    {
        var height = parts.Max(HeightOf) + 2 * Pad;
        var top = _y;
        var x = Left;
        for (var i = 0; i < columns.Count; i++)
        {
            var (left, width) = (x, widths[i]);
            Op(g => g.DrawRectangle(Hair, left, top, width, height));
            var y = top + Pad;
            foreach (var line in parts[i])
            {
                var baseline = y + line.Size * 0.92;
                PutLine(line, row[i].Anchor, columns[i].Right, left + Pad, width - 2 * Pad, baseline);
                y += line.Size * Leading;
            }

            x += width;
        }

        _y += height;
    }

    private void PutLine(Line line, string? anchor, bool right, double left, double width, double baseline)
    {
        _sheets[^1].Ops.Add((g, page) =>
        {
            var text = line.Text;
            if (anchor is not null && text.Contains(PageSlot, StringComparison.Ordinal))
            {
                var number = _anchors[anchor];
                text = text.Replace(PageSlot, number.ToString(CultureInfo.InvariantCulture), StringComparison.Ordinal);
                page.AddDocumentLink(new PdfRectangle(new XPoint(left, Height - baseline + line.Size), new XPoint(left + width, Height - baseline - 2)), number);
            }

            var x = right ? left + width - fonts.Width(text, line.Face, line.Size) : left;
            g.DrawString(text, fonts.Font(line.Face, line.Size), Ink, x, baseline);
        });
    }

    /// <summary>Stands in a cell's text where the page number of its anchor goes.</summary>
    public const string PageSlot = "{page}";

    private readonly record struct Line(string Text, Face Face, double Size);

    private static double HeightOf(List<Line> lines) => lines.Sum(l => l.Size * Leading);

    private List<Line> Lines(Cell cell, double width)
    {
        var size = cell.Face == Face.Mono ? TableSize - 0.8 : TableSize;
        var lines = cell.Text.Length == 0 ? [] : Wrap(cell.Text, cell.Face, size, width).Select(t => new Line(t, cell.Face, size)).ToList();
        if (cell.Small is { Length: > 0 } small) lines.AddRange(Wrap(small, Face.Regular, SmallSize, width).Select(t => new Line(t, Face.Regular, SmallSize)));
        if (lines.Count == 0) lines.Add(new Line("", cell.Face, size));
        return lines;
    }

    private static List<Line> TakeLines(List<Line> lines, double height)
    {
        var taken = new List<Line>();
        var used = 0.0;
        while (lines.Count > 0 && used + lines[0].Size * Leading <= height + 0.01)
        {
            used += lines[0].Size * Leading;
            taken.Add(lines[0]);
            lines.RemoveAt(0);
        }

        return taken;
    }

    /// <summary>Breaks at spaces, and inside a word only when the word alone is too wide.</summary>
    private IEnumerable<string> Wrap(string text, Face face, double size, double width)
    {
        foreach (var paragraph in Printable(text).Split('\n'))
        {
            var line = "";
            foreach (var word in paragraph.Split(' ', StringSplitOptions.RemoveEmptyEntries))
            {
                var longer = line.Length == 0 ? word : line + " " + word;
                if (fonts.Width(longer, face, size) <= width)
                {
                    line = longer;
                    continue;
                }

                if (line.Length > 0) yield return line;
                line = word;
                while (fonts.Width(line, face, size) > width && line.Length > 1)
                {
                    var cut = BreakAt(line, face, size, width);
                    yield return line[..cut];
                    line = line[cut..];
                }
            }

            if (line.Length > 0) yield return line;
        }
    }

    private int BreakAt(string word, Face face, double size, double width)
    {
        var fits = 1;
        while (fits < word.Length && fonts.Width(word[..(fits + 1)], face, size) <= width) fits++;
        // After a mark that already parts the word, if one is in the second half of what fits.
        var mark = word.LastIndexOfAny(['-', '/', '.', '_', ':', ','], fits - 1, fits - fits / 2);
        var cut = mark > 0 ? mark + 1 : fits;
        return cut < word.Length && char.IsLowSurrogate(word[cut]) ? Math.Max(1, cut - 1) : cut;
    }

    private static string Printable(string text) =>
        string.Concat(text.Select(c => c == '\n' ? '\n' : char.IsControl(c) ? ' ' : c));

    private void Watermark(XGraphics g)
    {
        var state = g.Save();
        g.TranslateTransform(Width / 2, Height / 2);
        g.RotateTransform(-55);
        g.DrawString("DRAFT", fonts.Font(Face.Bold, 150), Ghost, new XPoint(0, 0), XStringFormats.Center);
        g.Restore(state);
    }

    private void Margins(XGraphics g, Sheet sheet, int number)
    {
        void At(string text, double y, Face face, double size, bool right)
        {
            var width = fonts.Width(text, face, size);
            g.DrawString(text, fonts.Font(face, size), Ink, right ? Left + Inner - width : Left, y);
        }

        At(marks.Title, 34, Face.Bold, 8.6, false);
        At(marks.Document, 34, Face.Bold, 8.6, true);
        At(Fit("Contract " + marks.Contract, Face.Regular, 8, Inner * 0.55), 46, Face.Regular, 8, false);
        At(Fit(sheet.Form, Face.Regular, 8, Inner * 0.42), 46, Face.Regular, 8, true);
        At(Fit(sheet.Units, Face.Regular, 8, Inner), 57, Face.Regular, 8, false);
        g.DrawLine(Rule, Left, 63, Left + Inner, 63);
        g.DrawLine(Rule, Left, Height - 40, Left + Inner, Height - 40);
        At(marks.Foot, Height - 29, Face.Regular, 7.2, false);
        At(string.Create(CultureInfo.InvariantCulture, $"Page {number} of {_sheets.Count}"), Height - 29, Face.Bold, 8, true);
        if (marks.Draft) At("DRAFT for the plant's own review. Not a record for the agency.", Height - 19, Face.Bold, 7.2, false);
    }

    private string Fit(string text, Face face, double size, double width)
    {
        if (fonts.Width(text, face, size) <= width) return text;
        while (text.Length > 1 && fonts.Width(text + " ...", face, size) > width) text = text[..^1];
        return text + " ...";
    }
}

/// <summary>What stands in the margins of every sheet.</summary>
internal sealed record PaperMarks(string Title, string Document, string Contract, string Foot, bool Draft);

/// <summary>Where a form stands, pages from 1, and the SHA-256 of what it says.</summary>
internal sealed record FormSpan(int From, int Through, string Content);
