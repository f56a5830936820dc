using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>An invented letter: one page of PDF with one line, the same bytes every time.</summary>
public sealed record Paper(string Title)
{
    public byte[] Bytes { get; } = Write(Title);

    public string Sha256 => Convert.ToHexStringLower(SHA256.HashData(Bytes));

    private static byte[] Write(string title)
    {
        var line = $"BT /F1 14 Tf 72 700 Td ({title.Replace("\\", "\\\\", StringComparison.Ordinal).Replace("(", "\\(", StringComparison.Ordinal).Replace(")", "\\)", StringComparison.Ordinal)}) Tj ET";
        string[] objects =
        [
            "<</Type/Catalog/Pages 2 0 R>>", "<</Type/Pages/Kids[3 0 R]/Count 1>>",
            "<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]/Contents 4 0 R/Resources<</Font<</F1 5 0 R>>>>>>",
            string.Create(CultureInfo.InvariantCulture, $"<</Length {line.Length}>>\nstream\n{line}\nendstream"), "<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>",
        ];
        var text = new StringBuilder("%PDF-1.4\n");
        var places = new List<int>();
        for (var i = 0; i < objects.Length; i++)
        {
            places.Add(text.Length);
            text.Append(CultureInfo.InvariantCulture, $"{i + 1} 0 obj\n{objects[i]}\nendobj\n");
        }

        var table = text.Length;
        text.Append(CultureInfo.InvariantCulture, $"xref\n0 {objects.Length + 1}\n0000000000 65535 f \n");
        foreach (var place in places) text.Append(CultureInfo.InvariantCulture, $"{place:0000000000} 00000 n \n");
        text.Append(CultureInfo.InvariantCulture, $"trailer\n<</Size {objects.Length + 1}/Root 1 0 R>>\nstartxref\n{table}\n%%EOF\n");
        return Encoding.ASCII.GetBytes(text.ToString());
    }
}
