using System.Reflection;
using System.Text.RegularExpressions;
using System.Xml.Linq;
using ArchUnitNET.Domain;
using ArchUnitNET.Loader;
using Traceability.Core.Records;

namespace Traceability.Core.Tests.Architecture;

/// <summary>What may lean on what. A change that breaks one of these changes the plan of the house, not a detail.</summary>
public partial class HouseTests
{
    private static readonly ArchUnitNET.Domain.Architecture s_core = new ArchLoader().LoadAssemblies(typeof(CloudEvent).Assembly).Build();

    /// <summary>Folders of the service, those below first: a folder may use the ones before it and those beside it.</summary>
    private static readonly IReadOnlyList<IReadOnlyList<string>> s_floors =
    [
        ["Operations"],
        ["Log", "Linking"],
        ["Recording", "Assembling", "People"],
        ["Intake", "Imports", "Decisions", "Recall", "Replay", "Strength", "Units", "Profiles"],
        ["Packets", "Board", "Pages", "Edge"],
        ["Commands"],
    ];

    [Theory]
    [InlineData("Traceability.Core")]
    [InlineData("Traceability.Verifier")]
    public void Core_and_verifier_reference_nothing_of_ours_and_core_no_package(string project)
    {
        var text = XDocument.Load(Repository.Path("src", project, project + ".csproj"));

        Assert.Empty(text.Descendants("ProjectReference"));
        if (project == "Traceability.Core") Assert.Empty(text.Descendants("PackageReference"));
    }

    [Fact]
    public void Core_is_pure()
    {
        string[] forbidden =
        [
            "System.IO.File", "System.IO.Directory", "System.IO.FileStream", "System.IO.Path", "System.Net.", "System.TimeProvider", "System.Random", "System.Environment",
            "System.Threading.Thread", "System.Threading.Tasks.Task", "System.Threading.Timer", "System.Threading.Monitor", "System.Diagnostics.Stopwatch", "System.Diagnostics.Process", "System.Console", "System.TimeZoneInfo",
        ];

        var uses = s_core.Types.Where(t => t.FullName.StartsWith("Traceability.Core", StringComparison.Ordinal))
            .SelectMany(t => t.Dependencies.Select(d => (From: t.FullName, To: d.Target.FullName)))
            .Where(d => forbidden.Any(f => d.To == f || (f.EndsWith('.') ? d.To.StartsWith(f, StringComparison.Ordinal) : d.To.StartsWith(f + "`", StringComparison.Ordinal))));
        Assert.Empty(uses.Select(u => $"{u.From} uses {u.To}").Distinct());
        Assert.Empty(Calls("System.Guid::NewGuid").Concat(Calls("::get_Now()")).Concat(Calls("::get_UtcNow()")).Concat(Calls("::get_Today()")));
        // The search does find what is there.
        Assert.NotEmpty(Calls("System.DateOnly::TryParseExact"));
    }

    private static IEnumerable<string> Calls(string method) => s_core.Types
        .SelectMany(t => t.Dependencies.OfType<ArchUnitNET.Domain.Dependencies.MethodCallDependency>())
        .Where(d => d.TargetMember.FullName.Contains(method, StringComparison.Ordinal))
        .Select(d => d.OriginMember.FullName + " calls " + d.TargetMember.FullName);

    [Fact]
    public void Only_core_is_shared_between_the_projects()
    {
        string[] shared = ["Traceability.Core"];
        foreach (var file in Directory.GetFiles(Repository.Path("src"), "*.csproj", SearchOption.AllDirectories))
        {
            var references = XDocument.Load(file).Descendants("ProjectReference").Select(r => Path.GetFileNameWithoutExtension(r.Attribute("Include")!.Value.Replace('\\', '/')));
            Assert.Empty(references.Except(shared).Select(r => $"{Path.GetFileNameWithoutExtension(file)} references {r}"));
        }
    }

    [Fact]
    public void Judging_does_not_know_where_records_come_from_and_records_do_not_know_judging()
    {
        Assert.Empty(Uses("Traceability.Core.Records", "Traceability.Core.Judging"));
        Assert.Empty(Uses("Traceability.Core.Dossiers", "Traceability.Core.Judging"));
        Assert.Empty(Uses("Traceability.Core.Events", "Traceability.Core.Judging"));
    }

    private static IEnumerable<string> Uses(string from, string to) => s_core.Types.Where(t => t.FullName.StartsWith(from + ".", StringComparison.Ordinal))
        .SelectMany(t => t.Dependencies).Where(d => d.Target.FullName.StartsWith(to + ".", StringComparison.Ordinal)).Select(d => $"{d.Origin.FullName} uses {d.Target.FullName}").Distinct();

    [Fact]
    public void Folders_of_the_service_use_only_what_lies_below_or_beside_them()
    {
        var service = Repository.Path("src", "Traceability.Service");
        var floor = s_floors.SelectMany((names, i) => names.Select(n => (n, i))).ToDictionary(f => f.n, f => f.i, StringComparer.Ordinal);
        var found = new List<string>();
        foreach (var folder in Directory.GetDirectories(service).Select(d => Path.GetFileName(d)!).Where(d => floor.ContainsKey(d)))
        {
            foreach (var file in Directory.GetFiles(Path.Combine(service, folder), "*.cs", SearchOption.AllDirectories))
            {
                // The composition root names every part by its nature.
                if (folder == "Operations" && Roots.Contains(Path.GetFileName(file))) continue;
                foreach (Match use in UsingOfOurs().Matches(File.ReadAllText(file)))
                {
                    var other = use.Groups[1].Value;
                    if (other != folder && floor.TryGetValue(other, out var above) && above > floor[folder]) found.Add($"{folder}/{Path.GetFileName(file)} uses {other}");
                }
            }
        }

        Assert.Empty(found.Distinct());
    }

    private static readonly IReadOnlySet<string> Roots = new HashSet<string>(StringComparer.Ordinal) { "Host.cs", "CommandLine.cs", "Schema.cs", "Startup.cs", "Health.cs" };

    [GeneratedRegex(@"^using Traceability\.Service\.(\w+)", RegexOptions.Multiline)]
    private static partial Regex UsingOfOurs();
}
