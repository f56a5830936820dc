using System.Globalization;

namespace Traceability.PlantSimulator.Verbs;

/// <summary>A mistake in how the program was called; its message says what to write instead.</summary>
public sealed class UsageException(string message) : Exception(message);

/// <summary>Command-line options of the form "--name value".</summary>
public sealed class Options
{
    private readonly Dictionary<string, List<string>> _values = new(StringComparer.Ordinal);
    private readonly HashSet<string> _used = new(StringComparer.Ordinal);

    public Options(IReadOnlyList<string> words)
    {
        for (var i = 0; i < words.Count; i += 2)
        {
            if (!words[i].StartsWith("--", StringComparison.Ordinal)) throw new UsageException($"'{words[i]}' is not an option; options start with --");
            if (i + 1 == words.Count) throw new UsageException($"{words[i]} needs a value");
            if (!_values.TryGetValue(words[i], out var values)) _values[words[i]] = values = [];
            values.Add(words[i + 1]);
        }
    }

    public string Text(string name) => Optional(name) ?? throw new UsageException($"{name} is needed");

    public string? Optional(string name) => All(name) is [.., var last] ? last : null;

    public IReadOnlyList<string> All(string name)
    {
        _used.Add(name);
        return _values.GetValueOrDefault(name) ?? [];
    }

    public int Number(string name, int otherwise) =>
        Optional(name) is not { } text ? otherwise
        : int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var number) ? number
        : throw new UsageException($"{name} must be a whole number, it is '{text}'");

    public Uri Url(string name) =>
        Uri.TryCreate(Text(name).TrimEnd('/') + "/", UriKind.Absolute, out var url) ? url : throw new UsageException($"{name} must be an address such as http://127.0.0.1:5080");

    /// <summary>To be called when every option has been read.</summary>
    public void Done()
    {
        if (_values.Keys.FirstOrDefault(k => !_used.Contains(k)) is { } unknown) throw new UsageException($"{unknown} is not an option of this command");
    }
}
