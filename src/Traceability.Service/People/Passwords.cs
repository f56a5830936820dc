namespace Traceability.Service.People;

/// <summary>
/// Passwords that many people take, refused as NIST SP 800-63B (section 5.1.1.2) asks: values of a list of common passwords, repeated and sequential
/// characters, and words of the context. The list is Data/common-passwords.txt, its source and MIT license stand beside it; how a password is taken
/// apart is our own choice.
/// </summary>
public static class Passwords
{
    /// <summary>What must be left when the owner's name and id are taken out.</summary>
    private const int LeastOfOwn = 8;

    private const int FewestDifferent = 5;

    private static readonly Lazy<HashSet<string>> s_common = new(() =>
    {
        using var reader = new StreamReader(typeof(Passwords).Assembly.GetManifestResourceStream("Traceability.Service.People.common-passwords.txt")!);
        return [.. reader.ReadToEnd().Split('\n', StringSplitOptions.RemoveEmptyEntries)];
    });

    /// <summary>Whether a password would be among the first that are tried.</summary>
    /// <param name="own">What is known of its owner: id and name.</param>
    public static bool IsCommon(string password, IEnumerable<string> own)
    {
        var text = password.ToLowerInvariant();
        if (text.Distinct().Count() < FewestDifferent || IsRun(text)) return true;
        var rest = own.SelectMany(o => o.ToLowerInvariant().Split(' ', StringSplitOptions.RemoveEmptyEntries)).Where(o => o.Length >= 3).Aggregate(text, (t, o) => t.Replace(o, "", StringComparison.Ordinal));
        if (rest.Length != text.Length && rest.Length < LeastOfOwn) return true;
        // Years and marks around a word do not make it another: Password2026!
        return IsWord(text) || IsWord(text.Trim([.. "0123456789!@#$%^&*()-_=+.,;:?/ "]));
    }

    // One listed word, two of them, or one again and again.
    private static bool IsWord(string text)
    {
        if (text.Length == 0 || s_common.Value.Contains(text)) return true;
        for (var n = 1; n < text.Length; n++)
        {
            if (text.Length % n == 0 && (n <= 4 || s_common.Value.Contains(text[..n])) && Enumerable.Range(n, text.Length - n).All(i => text[i] == text[i - n])) return true;
            if (s_common.Value.Contains(text[..n]) && s_common.Value.Contains(text[n..])) return true;
        }

        return false;
    }

    private static bool IsRun(string text) => Enumerable.Range(1, text.Length - 1).Count(i => Math.Abs(text[i] - text[i - 1]) <= 1) >= text.Length * 3 / 4;
}
