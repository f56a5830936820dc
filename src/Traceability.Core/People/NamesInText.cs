namespace Traceability.Core.People;

/// <summary>
/// Whether a text names somebody. Records cannot be erased, so whoever types is warned before a name becomes part of one. A warning too many costs one
/// more press, so a whole name is found however it is written, a family name only where it looks like one. Pure.
/// </summary>
public static class NamesInText
{
    /// <summary>What whoever typed it reads.</summary>
    public const string Warning = "This text names a person. Records cannot be erased; write the badge id instead.";

    /// <summary>Letters of the shortest family name that is looked for alone. Our own choice: shorter ones are too often ordinary words.</summary>
    public const int ShortestFamilyName = 4;

    // What ids, addresses and file names are held together by; a name between them is part of one.
    private const string Joints = "-_/@.:#";

    /// <param name="names">As the register displays them: "Given Family", "Family, Given", or one word.</param>
    public static bool Any(string text, IEnumerable<string> names)
    {
        var read = Spaced(text);
        return names.Select(Spaced).Any(name => (name.Contains(' ', StringComparison.Ordinal) && Find(read, name, StringComparison.OrdinalIgnoreCase, _ => true))
            || (FamilyOf(name) is { } family && Find(read, family, StringComparison.OrdinalIgnoreCase, at => char.IsUpper(read[at]))));
    }

    // The last long word before a comma: "Family, Given", "Given Family, PE", "Given Family Jr". What is written small in the register is a function, not a name.
    private static string? FamilyOf(string name) =>
        name.Split(',')[0].Split(' ').LastOrDefault(w => w.Count(char.IsLetter) >= ShortestFamilyName) is { } word && char.IsUpper(word[0]) ? word.Trim('.') : null;

    private static bool Find(string text, string name, StringComparison how, Func<int, bool> fits)
    {
        for (var at = text.IndexOf(name, how); at >= 0; at = text.IndexOf(name, at + 1, how))
        {
            if (!IsJoined(text, at - 1, -1) && !IsJoined(text, at + name.Length, 1) && fits(at)) return true;
        }

        return false;
    }

    // A letter or digit beside it, or one behind a joint: "RF-Miller", "Miller-2", "miller.pdf". A full stop at the end of a sentence joins nothing.
    private static bool IsJoined(string text, int at, int step) =>
        IsWord(text, at) || (at >= 0 && at < text.Length && Joints.Contains(text[at], StringComparison.Ordinal) && IsWord(text, at + step));

    private static bool IsWord(string text, int at) => at >= 0 && at < text.Length && char.IsLetterOrDigit(text[at]);

    private static string Spaced(string text) => string.Join(' ', text.Normalize().Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
}
