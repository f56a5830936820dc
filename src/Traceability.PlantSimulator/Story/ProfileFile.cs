using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Events;
using YamlDotNet.RepresentationModel;

namespace Traceability.PlantSimulator.Story;

/// <summary>Reads a profile of limits from its YAML file into the fact that publishes it.</summary>
public static class ProfileFile
{
    /// <summary>The profile kept with the core for rigid-frame units.</summary>
    /// <exception cref="JsonException">The file does not have the shape of a published profile.</exception>
    public static ProfilePublished Baseline()
    {
        using var stream = typeof(ProfilePublished).Assembly.GetManifestResourceStream("Traceability.Core.Profiles.Data.rigid-frame-baseline.yaml")
            ?? throw new InvalidOperationException("the core carries no profile 'rigid-frame-baseline'");
        using var reader = new StreamReader(stream);
        return Read(reader);
    }

    /// <exception cref="JsonException">The file does not have the shape of a published profile.</exception>
    public static ProfilePublished Read(TextReader yaml)
    {
        var stream = new YamlStream();
        stream.Load(yaml);
        var root = (JsonObject)ToJson(stream.Documents[0].RootNode);
        // Every scalar of the file is read as text, as figures must keep their digits; the version is the one number.
        root["version"] = int.Parse(root["version"]!.GetValue<string>(), NumberStyles.None, CultureInfo.InvariantCulture);
        return root.Deserialize<ProfilePublished>(FactJson.Options)!;
    }

    private static JsonNode ToJson(YamlNode node) => node switch
    {
        YamlMappingNode map => new JsonObject(map.Children.Select(c => KeyValuePair.Create(((YamlScalarNode)c.Key).Value!, (JsonNode?)ToJson(c.Value)))),
        YamlSequenceNode list => new JsonArray([.. list.Children.Select(ToJson)]),
        YamlScalarNode scalar => JsonValue.Create(scalar.Value ?? ""),
        _ => throw new InvalidOperationException($"a {node.NodeType} has no place in a profile"),
    };
}
