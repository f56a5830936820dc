namespace Traceability.Core.Tests.Supply;

/// <summary>Which packages a build takes is under version control: packages.lock.json beside each project.</summary>
public sealed class LockFilesTests
{
    [Fact]
    public void Every_project_has_a_lock_file_and_it_names_the_versions_that_are_pinned()
    {
        var found = new List<string>();
        foreach (var project in Package.Projects)
        {
            if (!File.Exists(Repository.Path(Package.LockFile(project)))) found.Add($"{project} has no lock file; run dotnet restore");
            else found.AddRange(Package.Kept(project).Where(p => p.Type == "Direct" && !p.IsOfTheSdk && p.Version != Package.Pins[p.Name]).Select(p => $"{project}: {p.Name} is locked at {p.Version} and pinned at {Package.Pins[p.Name]}"));
        }

        Assert.Empty(found);
    }

    [Fact]
    public void Every_pin_is_one_exact_version_that_a_lock_file_names()
    {
        var kept = Package.Projects.SelectMany(Package.Kept).Select(p => (p.Name, p.Version)).ToHashSet();
        Assert.Empty(Package.Pins.Where(p => !kept.Contains((p.Key, p.Value))).Select(p => $"no lock file names {p.Key} {p.Value}"));
        Assert.Empty(Package.Pins.Where(p => p.Value.AsSpan().IndexOfAny("*[](),") >= 0).Select(p => $"{p.Key} {p.Value} is no exact version"));
    }

    // A restore writes the lock files anew, silently, where they do not fit any more: what was restored here has to be what everybody else gets. Another SDK
    // leaves out other packages that its own framework holds already, so of those that come along only the versions are compared.
    [Fact]
    public void What_was_restored_is_what_is_under_version_control_except_what_the_sdk_brings()
    {
        var found = new List<string>();
        foreach (var project in Package.Projects)
        {
            var kept = Package.Kept(project).Where(p => !p.IsOfTheSdk).ToLookup(p => p.Name, StringComparer.Ordinal);
            var restored = Package.Locked(project).Where(p => !p.IsOfTheSdk).ToLookup(p => p.Name, StringComparer.Ordinal);
            Assert.NotEmpty(kept);
            found.AddRange(kept.Concat(restored).Where(p => p.Any(x => x.Type == "Direct") && !(kept.Contains(p.Key) && restored.Contains(p.Key))).Select(p => $"{project}: {p.Key} stands in one of the two only"));
            found.AddRange(kept.Where(p => restored.Contains(p.Key) && !p.Select(x => x.Version).ToHashSet().SetEquals(restored[p.Key].Select(x => x.Version)))
                .Select(p => $"{project}: {p.Key} is {p.First().Version} under version control and {restored[p.Key].First().Version} here"));
        }

        Assert.True(found.Count == 0, "Take the lock files that dotnet restore wrote under version control (git add):\n" + string.Join('\n', found.Distinct()));
    }

    // Of later versions a license has to be bought.
    [Fact]
    public void MassTransit_stays_with_its_last_open_version() =>
        Assert.All(Package.Projects.SelectMany(Package.Kept).Where(p => p.Name.StartsWith("MassTransit", StringComparison.Ordinal)), p => Assert.StartsWith("8.", p.Version, StringComparison.Ordinal));
}
