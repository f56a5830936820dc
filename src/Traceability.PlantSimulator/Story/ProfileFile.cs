using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Service.Imports;

namespace Traceability.PlantSimulator.Story;

/// <summary>The profiles of limits that the core carries, complete, as the facts that publish them.</summary>
public static class ProfileFile
{
    /// <summary>The profile for rigid-frame units.</summary>
    public static ProfilePublished Baseline() => Shipped("rigid-frame-baseline@1");

    /// <summary>A profile that the core carries, by its name and version.</summary>
    /// <exception cref="InvalidOperationException">There is none of that name, or its file is refused.</exception>
    public static ProfilePublished Shipped(string name)
    {
        var document = YamlProfiles.Shipped.GetValueOrDefault(name) ?? throw new InvalidOperationException($"the core carries no profile '{name}'");
        var compiled = ProfileCompiler.Compile(document, YamlProfiles.Shipped.GetValueOrDefault);
        return compiled.Profile ?? throw new InvalidOperationException(string.Join(Environment.NewLine, compiled.Errors));
    }

    /// <summary>Every profile file that the core carries.</summary>
    public static IReadOnlyCollection<ProfileDocument> AllShipped => [.. YamlProfiles.Shipped.Values];

    /// <summary>The document of one file, or null with what is wrong and on which line.</summary>
    public static (ProfileDocument? Document, IReadOnlyList<ProfileError> Errors) Read(string file, TextReader yaml) => YamlProfiles.Read(file, yaml);
}
