using Traceability.Core.Profiles;
using YamlDotNet.Core;
using YamlDotNet.Core.Events;
using YamlDotNet.RepresentationModel;

namespace Traceability.Service.Imports;

/// <summary>Profile files as YAML, and the ones the core carries. What they mean is the core's.</summary>
internal static class YamlProfiles
{
    private const string Folder = "Traceability.Core.Profiles.Data.";

    /// <summary>Characters of a file. Our own choice: fifty times the largest that the core carries.</summary>
    private const int LongestFile = 1 << 20;

    /// <summary>Names and values of a file, and how deep they nest. Our own choices: a profile has some thousand, four deep.</summary>
    private const int MostParts = 100_000, DeepestNesting = 20;

    /// <summary>The document of one file, or null with what is wrong and on which line.</summary>
    public static (ProfileDocument? Document, IReadOnlyList<ProfileError> Errors) Read(string file, TextReader yaml)
    {
        var at = 1;
        try
        {
            var text = Text(yaml);
            if ((text is null ? new(file, 1, $"It has more than {LongestFile} characters.", "Write fewer limits in a file.") : Unfit(file, text, ref at)) is { } unfit) return (null, [unfit]);
            var stream = new YamlStream();
            stream.Load(new StringReader(text!));
            return stream.Documents.Count == 1
                ? ProfileReader.Read(file, Node(stream.Documents[0].RootNode))
                : (null, [new(file, 1, $"It holds {stream.Documents.Count} documents.", "Write one profile in a file.")]);
        }
        catch (YamlException e)
        {
            return (null, [NotYaml(file, (int)Math.Max(1, e.Start.Line), $": {e.Message.TrimEnd('.')}")]);
        }
        catch (Exception e) when (e is InvalidOperationException or ArgumentException or FormatException)
        {
            // What the library ends with where it lost its place, as after a brace that is left open; behind the last line that it read.
            return (null, [NotYaml(file, at, " from here on")]);
        }
    }

    private static ProfileError NotYaml(string file, int line, string why) => new(file, line, $"This is not YAML{why}.", "Compare the indentation and the quotes with a file that is read.");

    private static string? Text(TextReader yaml)
    {
        var text = new char[LongestFile + 1];
        var length = yaml.ReadBlock(text, 0, text.Length);
        return length > LongestFile ? null : new string(text, 0, length);
    }

    // What follows takes the file part within part, an alias as what it stands for: one that nests without end, holds itself, or doubles itself by aliases would end the program.
    private static ProfileError? Unfit(string file, string text, ref int line)
    {
        var parser = new Parser(new StringReader(text));
        var named = new Dictionary<string, (long Parts, int Height)>(StringComparer.Ordinal);
        var open = new Stack<(string? Name, long Parts, int Height)>();
        open.Push((null, 0, 0));
        void Add(long parts, int height) => open.Push(open.Pop() is var around ? (around.Name, around.Parts + parts, Math.Max(around.Height, height)) : default);
        while (parser.MoveNext())
        {
            line = (int)Math.Max(1, parser.Current!.Start.Line);
            var name = parser.Current is NodeEvent { Anchor.IsEmpty: false } node ? node.Anchor.Value : null;
            switch (parser.Current)
            {
                case AnchorAlias alias when named.TryGetValue(alias.Value.Value, out var meant):
                    Add(meant.Parts, meant.Height);
                    break;
                case AnchorAlias alias:
                    return new(file, line, $"The alias '*{alias.Value}' stands for nothing in front of it.", "Write the value out where it is used.");
                case Scalar:
                    if (name is not null) named[name] = (1, 0);
                    Add(1, 0);
                    break;
                case MappingStart or SequenceStart:
                    // What it named before is another thing, and itself it cannot hold.
                    if (name is not null) named.Remove(name);
                    open.Push((name, 1, 0));
                    break;
                case MappingEnd or SequenceEnd:
                    var (own, parts, height) = open.Pop();
                    if (own is not null) named[own] = (parts, height + 1);
                    Add(parts, height + 1);
                    break;
            }

            if (open.Peek().Parts > MostParts) return new(file, line, $"With its aliases it has more than {MostParts} parts.", "Write fewer limits in a file.");
            if (open.Count - 1 + open.Peek().Height > DeepestNesting) return new(file, line, $"It nests deeper than {DeepestNesting}.", "Compare the indentation and the brackets with a file that is read.");
        }

        return null;
    }

    /// <summary>The files that the core carries, by the name another file inherits them by.</summary>
    public static IReadOnlyDictionary<string, ProfileDocument> Shipped { get; } = ReadShipped();

    private static Dictionary<string, ProfileDocument> ReadShipped()
    {
        var core = typeof(ProfileDocument).Assembly;
        return core.GetManifestResourceNames().Where(n => n.StartsWith(Folder, StringComparison.Ordinal)).Select(name =>
        {
            using var reader = new StreamReader(core.GetManifestResourceStream(name)!);
            var (document, errors) = Read(name[Folder.Length..], reader);
            return document ?? throw new InvalidOperationException(string.Join(Environment.NewLine, errors));
        }).ToDictionary(d => d.Name, StringComparer.Ordinal);
    }

    private static ProfileNode Node(YamlNode node)
    {
        var line = (int)node.Start.Line;
        return node switch
        {
            YamlMappingNode map => new ProfileMap([.. map.Children.Select(c => new ProfileMember((c.Key as YamlScalarNode)?.Value ?? "", (int)c.Key.Start.Line, Node(c.Value)))], line),
            YamlSequenceNode list => new ProfileList([.. list.Children.Select(Node)], line),
            _ => new ProfileText((node as YamlScalarNode)?.Value ?? "", line),
        };
    }
}
