namespace Traceability.Service.People;

/// <summary>What a browser says of itself, in words that its owner knows it by. It can say anything: nothing rests on it.</summary>
public static class BrowserWords
{
    // The first that fits counts: most browsers also name those they want to be taken for.
    private static readonly (string Part, string Word)[] s_browsers = [("Edg", "Edge"), ("OPR/", "Opera"), ("SamsungBrowser/", "Samsung Internet"), ("Firefox/", "Firefox"), ("FxiOS/", "Firefox"), ("CriOS/", "Chrome"), ("Chrome/", "Chrome"), ("Safari/", "Safari")];

    private static readonly (string Part, string Word)[] s_systems = [("Windows", "Windows"), ("Android", "Android"), ("iPhone", "iPhone"), ("iPad", "iPad"), ("CrOS", "Chromebook"), ("Macintosh", "Mac"), ("Linux", "Linux")];

    public static string Of(string? userAgent)
    {
        var (browser, system) = (Word(s_browsers, userAgent), Word(s_systems, userAgent));
        return (browser, system) switch
        {
            (null, null) => "A program",
            (null, _) => $"A browser on {system}",
            (_, null) => browser,
            _ => $"{browser} on {system}",
        };
    }

    private static string? Word((string Part, string Word)[] words, string? text) => words.FirstOrDefault(w => text?.Contains(w.Part, StringComparison.Ordinal) == true).Word;
}
