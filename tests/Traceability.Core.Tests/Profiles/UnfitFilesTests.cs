using Traceability.PlantSimulator.Story;
using static Traceability.Core.Tests.Profiles.Authored;

namespace Traceability.Core.Tests.Profiles;

/// <summary>Profile files that would end the program that takes them in, part within part.</summary>
public sealed class UnfitFilesTests
{
    public static TheoryData<string, int, string> Unfit => new()
    {
        { Root + "\nholds: " + new string('[', 50_000), 14, "nests deeper than 20" },
        { Root + "\nholds: " + new string('[', 50_000) + new string(']', 50_000), 14, "nests deeper than 20" },
        { Root + "\nholds: &a [*a]", 14, "'*a' stands for nothing in front of it" },
        { Root + "\nholds: *a", 14, "'*a' stands for nothing in front of it" },
        { "a0: &a0 [x, x]\n" + string.Concat(Enumerable.Range(1, 15).Select(i => $"a{i}: &a{i} [*a{i - 1}, *a{i - 1}, *a{i - 1}]\n")), 10, "more than 100000 parts" },
        { "a0: &a0 [x]\n" + string.Concat(Enumerable.Range(1, 30).Select(i => $"a{i}: &a{i} [*a{i - 1}]\n")), 20, "nests deeper than 20" },
        { Root + "\ntitle: " + new string('x', 1 << 20), 1, "more than 1048576 characters" },
    };

    [Theory, MemberData(nameof(Unfit))]
    public void A_file_that_nests_or_doubles_itself_without_end_is_refused_with_its_line(string yaml, int line, string why)
    {
        var error = Error(yaml);

        Assert.Equal(line, error.Line);
        Assert.Contains(why, error.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_brace_that_is_left_open_is_told_with_its_line()
    {
        var error = Error(Root.Replace("cover.increase, value: \"1/2\", unit: in, printed: \"+1/2 in\", source: { document: \"Invented standard\", edition: \"2026\", clause: \"2\", mark: commonPractice } }", "none", StringComparison.Ordinal));

        Assert.Contains("This is not YAML", error.Reason, StringComparison.Ordinal);
        Assert.InRange(error.Line, 8, 10);
    }

    [Fact]
    public void An_alias_stands_for_what_was_named_in_front_of_it()
    {
        var (document, errors) = ProfileFile.Read("child.yaml", new StringReader(Root.Replace("releases: [pour, ship]", "releases: &two [pour, ship]\nprecedence: []", StringComparison.Ordinal).Replace("source: { document: \"Invented standard\", edition: \"2026\", clause: \"2\"", "source: &second { document: \"Invented standard\", edition: \"2026\", clause: \"2\"", StringComparison.Ordinal)
            .Replace("source: { document: \"Invented standard\", edition: \"2026\", clause: \"3\", mark: commonPractice }", "source: *second", StringComparison.Ordinal)));

        Assert.Empty(errors);
        Assert.Equal("2", document!.Limits.Single(l => l.Key == "fresh.temperature.min").Source.Clause);
    }
}
