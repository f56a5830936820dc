using System.Diagnostics;
using System.Text.Json;
using System.Xml.Linq;

namespace Traceability.Core.Tests.Supply;

/// <summary>A package as a project's lock file names it.</summary>
/// <param name="Project">The project, without "Traceability.".</param>
/// <param name="Type">Direct, Transitive or CentralTransitive.</param>
public sealed record Package(string Project, string Name, string Version, string Type)
{
    /// <summary>Versions of <c>Directory.Packages.props</c>.</summary>
    public static IReadOnlyDictionary<string, string> Pins { get; } = XDocument.Load(Repository.Path("Directory.Packages.props"))
        .Descendants("PackageVersion").ToDictionary(p => p.Attribute("Include")!.Value, p => p.Attribute("Version")!.Value, StringComparer.OrdinalIgnoreCase);

    /// <summary>Project files, as addresses in the repository.</summary>
    public static IReadOnlyList<string> Projects { get; } = [.. new[] { "src", "tests" }
        .SelectMany(f => Directory.GetFiles(Repository.Path(f), "*.csproj", SearchOption.AllDirectories))
        .Select(f => Path.GetRelativePath(Repository.Folder, f).Replace('\\', '/')).Order(StringComparer.Ordinal)];

    /// <summary>
    /// Whether the SDK brings it, at its own version (the tools of WebAssembly): no project asks for it. Another SDK takes another one, so nothing that is under version
    /// control may rest on which.
    /// </summary>
    public bool IsOfTheSdk => Type == "Direct" && !Pins.ContainsKey(Name);

    public static string LockFile(string project) => project[..(project.LastIndexOf('/') + 1)] + "packages.lock.json";

    /// <summary>The packages of a project's lock file, each once.</summary>
    public static IReadOnlyList<Package> Locked(string project) => Read(project, File.ReadAllText(Repository.Path(LockFile(project))));

    /// <summary>The same as version control has it; without version control, as the file says.</summary>
    public static IReadOnlyList<Package> Kept(string project) => Path.Exists(Repository.Path(".git")) ? Read(project, Git("show", ":" + LockFile(project))) : Locked(project);

    /// <summary>Every package of a project: as version control has it, and what the SDK of this machine brings.</summary>
    public static IEnumerable<Package> Of(string project) => Kept(project).Where(p => !p.IsOfTheSdk).Concat(Locked(project).Where(p => p.IsOfTheSdk));

    /// <summary>Every package of a program that is handed out, and of the simulator, which demonstrations start.</summary>
    public static IReadOnlyList<Package> Shipped { get; } = [.. Projects.Where(p => p.StartsWith("src/", StringComparison.Ordinal)).SelectMany(Of)];

    /// <summary>A file of the package as it was unpacked on this machine; null when it has none.</summary>
    public string? Find(string name) => Folders.Select(f => Path.Combine(f, Name.ToLowerInvariant(), Version.ToLowerInvariant(), name.Replace('\\', '/'))).FirstOrDefault(File.Exists);

    // Where the restore of these tests unpacked its packages.
    private static IReadOnlyList<string> Folders { get; } = [.. JsonDocument.Parse(File.ReadAllText(Repository.Path("tests", "Traceability.Core.Tests", "obj", "project.assets.json")))
        .RootElement.GetProperty("packageFolders").EnumerateObject().Select(f => f.Name)];

    private static List<Package> Read(string project, string text) => [.. JsonDocument.Parse(text).RootElement.GetProperty("dependencies").EnumerateObject()
        .SelectMany(f => f.Value.EnumerateObject())
        .Where(p => p.Value.GetProperty("type").GetString() != "Project")
        .Select(p => new Package(Path.GetFileNameWithoutExtension(project)["Traceability.".Length..], p.Name, p.Value.GetProperty("resolved").GetString()!, p.Value.GetProperty("type").GetString()!))
        .Distinct()];

    private static string Git(params string[] arguments)
    {
        // A container's clone may belong to another user than the one who tests.
        using var git = Process.Start(new ProcessStartInfo("git", ["-c", "safe.directory=*", "-C", Repository.Folder, .. arguments]) { RedirectStandardOutput = true, RedirectStandardError = true })!;
        var error = git.StandardError.ReadToEndAsync();
        var output = git.StandardOutput.ReadToEnd();
        git.WaitForExit();
        Assert.True(git.ExitCode == 0, $"git {string.Join(' ', arguments)}: {error.Result}");
        return output;
    }
}
