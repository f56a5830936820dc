using Traceability.Core.Profiles;
using YamlDotNet.Core;
using YamlDotNet.RepresentationModel;

namespace Traceability.Service.Imports;

/// <summary>Profile files as YAML, and the ones the core carries. What they mean is the core's.</summary>
internal static class YamlProfiles
{
    private const string Folder = "Traceability.Core.Profiles.Data.";

    /// <summary>The document of one file, or null with what is wrong and on which line.</summary>
    public static (ProfileDocument? Document, IReadOnlyList<ProfileError> Errors) Read(string file, TextReader yaml)
    {
        try
        {
            var stream = new YamlStream();
            stream.Load(yaml);
            return stream.Documents.Count == 1
                ? ProfileReader.Read(file, Node(stream.Documents[0].RootNode))
                : (null, [new(file, 1, $"It holds {stream.Documents.Count} documents.", "Write one profile in a file.")]);
        }
        catch (YamlException e)
        {
            return (null, [new(file, (int)Math.Max(1, e.Start.Line), $"This is not YAML: {e.Message.TrimEnd('.')}.", "Compare the indentation and the quotes with a file that is read.")]);
        }
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
