using System.Text.RegularExpressions;

namespace Traceability.Core.Tests.Supply;

/// <summary>Keeps docs/asvs.md whole, and what it names findable. Whether a judgement in it is right no test can tell.</summary>
public sealed partial class AsvsTests
{
    private static readonly IReadOnlyList<string> s_states = ["met", "partly", "unmet", "not checked", "not applicable"];

    private sealed record Line(string Number, string Level, string Asks, string State, string By);

    private static readonly string s_page = File.ReadAllText(Repository.Path("docs", "asvs.md"));

    private static readonly IReadOnlyList<Line> s_lines = [.. Row().Matches(s_page).Select(m => new Line(m.Groups[1].Value, m.Groups[2].Value, m.Groups[3].Value.Trim(), m.Groups[4].Value.Trim(), m.Groups[5].Value.Trim()))];

    private static readonly Lazy<IReadOnlyList<string>> s_tests = new(() =>
        [.. Directory.GetFiles(Repository.Path("tests"), "*.cs", SearchOption.AllDirectories).Where(f => !f.Contains($"{Path.DirectorySeparatorChar}obj{Path.DirectorySeparatorChar}", StringComparison.Ordinal)).Select(File.ReadAllText)]);

    private static readonly string s_settings = File.ReadAllText(Repository.Path("docs", "operations.md"));

    [Fact]
    public void Every_requirement_of_levels_one_and_two_stands_once_with_its_level_a_state_and_a_reason()
    {
        var asked = File.ReadAllLines(Repository.Path("tests", "Traceability.Core.Tests", "Supply", "asvs-5.0.0.txt")).Where(l => l.Length > 0 && l[0] != '#').ToList();

        Assert.Equal(253, asked.Count);
        Assert.Equal(asked, s_lines.Select(l => $"{l.Number} {l.Level}"));
        Assert.All(s_lines, l => Assert.Contains(l.State, s_states));
        Assert.All(s_lines, l => Assert.True(l.Asks.Length > 0 && l.By.Length > 0, l.Number));
        Assert.Contains(string.Join(", ", s_states.Select(s => $"{s_lines.Count(l => l.State == s)} {s}")) + $"; {s_lines.Count} in all.", s_page, StringComparison.Ordinal);
    }

    [Fact]
    public void What_is_met_names_a_place_and_what_is_named_exists()
    {
        Assert.Empty(s_lines.Where(l => l.State == "met" && !Name().IsMatch(l.By) && !SameAs().IsMatch(l.By)).Select(l => l.Number + " names nothing"));
        Assert.Empty(s_lines.SelectMany(l => Name().Matches(l.By).Select(m => (l.Number, Name: m.Groups[1].Value))).Where(n => !Exists(n.Name)).Select(n => $"{n.Number}: there is no {n.Name}"));
    }

    [Theory]
    [InlineData("People/Secrets.cs", true)]
    [InlineData("People/Secret.cs", false)]
    [InlineData("docs/security.md", true)]
    [InlineData("AsvsTests.What_is_met_names_a_place_and_what_is_named_exists", true)]
    [InlineData("AsvsTests.What_is_met_names_a_place", false)]
    [InlineData("LicensesTests.What_is_met_names_a_place_and_what_is_named_exists", false)]
    [InlineData("Edge__Https", true)]
    [InlineData("Edge__Http", false)]
    public void A_name_that_leads_nowhere_is_seen(string name, bool exists) => Assert.Equal(exists, Exists(name));

    private static bool Exists(string name)
    {
        if (TestName().Match(name) is { Success: true } test)
            return s_tests.Value.Any(t => Regex.IsMatch(t, $@"\bclass {test.Groups[1].Value}\b") && Regex.IsMatch(t, $@"public (async Task|Task|void) {test.Groups[2].Value}\("));
        if (Setting().IsMatch(name)) return Regex.IsMatch(s_settings, $"`{name}`");
        var parts = name.Split('/');
        return new[] { Repository.Path(parts), Repository.Path(["src", "Traceability.Service", .. parts]) }.Any(Path.Exists);
    }

    [GeneratedRegex(@"^\| (\d+\.\d+\.\d+) \| (\d) \| ([^|]*)\| ([^|]*)\| (.*) \|$", RegexOptions.Multiline)]
    private static partial Regex Row();

    [GeneratedRegex("`([^`]+)`")]
    private static partial Regex Name();

    [GeneratedRegex(@"^as \d+\.\d+\.\d+")]
    private static partial Regex SameAs();

    [GeneratedRegex(@"^([A-Z]\w+)\.([A-Z]\w*_\w+)$")]
    private static partial Regex TestName();

    [GeneratedRegex(@"^([A-Z][A-Za-z]+__[A-Za-z]+|[A-Z_]+)$")]
    private static partial Regex Setting();
}
