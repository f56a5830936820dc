using System.Reflection;
using System.Text;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.PlantSimulator.Story;

namespace Traceability.Core.Tests;

/// <summary>Keeps docs/requirements.md and docs/checks.md as the code has them; TRACE_WRITE_DOCS=1 writes them.</summary>
public sealed class DocsTests
{
    private static string Mark(SourceMark mark) => mark switch
    {
        SourceMark.Published => "published",
        SourceMark.Memory => "memory",
        SourceMark.Recorded => "recorded",
        _ => "common practice, no source",
    };

    private static string Cell(string text) => text.Replace("|", "\\|", StringComparison.Ordinal);

    [Fact]
    public void The_list_of_requirements_is_as_the_code_has_it()
    {
        var profile = ProfileFile.Baseline();
        var good = Judging.UnitCase.Good.Judge();
        var text = new StringBuilder("""
            # Requirements

            Generated from the code and from the profile `rigid-frame-baseline`; a test keeps it so. A requirement is one small file
            in `src/Traceability.Core/Judging`. Its limits are data: a contract adopts a profile, and the profile prints the limit,
            its document and how sure the figure is (published: seen in a publication; memory: not seen, to be confirmed against the
            document; common practice: no document; recorded: stated by an approved document whose record is in the log).

            """);
        foreach (var hold in Rules.All.GroupBy(r => r.Hold).OrderBy(g => g.Key))
        {
            text.Append("\n## ").Append(Title(hold.Key)).Append("\n\n| requirement | title | cites | limits asked of the profile |\n|---|---|---|---|\n");
            foreach (var rule in hold)
            {
                var cites = good.Findings.Where(f => f.Requirement == rule.Id).Select(f => f.Source.Mark == SourceMark.Recorded ? "the approval recorded here" : f.Source.ToString()).Distinct().Order(StringComparer.Ordinal);
                text.Append("| `").Append(rule.Id).Append("` | ").Append(Cell(rule.Title)).Append(" | ").AppendJoin("; ", cites.Select(Cell)).Append(" | ")
                    .AppendJoin("; ", rule.Limits.Select(l => Asked(profile, l))).Append(" |\n");
            }
        }

        text.Append("\n## Limits of the baseline profile\n\n").Append(Cell(profile.Title)).Append(". Rounding: ").Append(profile.Rounding)
            .Append(".\n\n| limit | value | as printed | document | mark |\n|---|---|---|---|---|\n");
        foreach (var limit in profile.Limits)
        {
            text.Append("| `").Append(limit.Key).Append("` | ").Append(limit.Value.Text).Append(' ').Append(limit.Unit).Append(" | ").Append(Cell(limit.Printed)).Append(" | ")
                .AppendJoin(", ", new[] { limit.Source.Document, limit.Source.Edition, limit.Source.Clause }.OfType<string>().Select(Cell)).Append(" | ").Append(Mark(limit.Source.Mark)).Append(" |\n");
        }

        text.Append("""

            ## Where the invented agencies differ

            Invented, like their documents; each differs from the national standards where real agencies do. "=" is the figure of
            the national standards, "none" is a limit that the contract lifts, "-" is no limit at all.


            """);
        string[] names = ["national-standards@1", "invented-north@1", "invented-east@1", "invented-west@2"];
        var compared = names.Select(ProfileFile.Shipped).ToList();
        text.Append("| | ").AppendJoin(" | ", names.Select(n => $"`{n}`")).Append(" |\n|---|---|---|---|---|\n| rounding | ").AppendJoin(" | ", compared.Select(p => p.Rounding)).Append(" |\n");
        foreach (var edition in LimitKeys.Editions)
            text.Append("| `").Append(edition.Name).Append("` | ").AppendJoin(" | ", compared.Select(p => p.Editions!.Single(e => e.Name == edition.Name).Value)).Append(" |\n");
        foreach (var key in compared.SelectMany(p => p.Limits.Select(l => l.Key).Concat((p.NotAsked ?? []).Select(n => n.What))).Distinct().Order(StringComparer.Ordinal))
        {
            var figures = compared.ConvertAll(p => Figure(p, key));
            if (figures.Distinct().Count() == 1) continue;
            text.Append("| `").Append(key).Append("` | ").Append(figures[0]).Append(" | ").AppendJoin(" | ", figures.Skip(1).Select(f => f == figures[0] ? "=" : f)).Append(" |\n");
        }

        text.Append("\n## Habits of plants\n\nDefaults and hints, never limits and no reason to refuse anything.\n\n| habit | usual | what | mark |\n|---|---|---|---|\n");
        foreach (var habit in Practice.All)
            text.Append("| `").Append(habit.Name).Append("` | ").Append(Core.Judging.Matter.Text(habit.Least)).Append(" to ").Append(Core.Judging.Matter.Text(habit.Most)).Append(' ').Append(habit.Unit).Append(" | ").Append(Cell(habit.What)).Append(" | ").Append(Cell(habit.Source.ToString())).Append(" |\n");

        Repository.AssertGenerated(text.ToString(), "docs", "requirements.md");
    }

    private static string Figure(Core.Events.ProfilePublished profile, string key) =>
        profile.Limits.FirstOrDefault(l => l.Key == key) is { } limit ? $"{limit.Value.Text} {limit.Unit}" : (profile.NotAsked ?? []).Any(n => n.What == key) ? "none" : "-";

    // A limit that the baseline does not state is one that an agency may add.
    private static string Asked(Core.Events.ProfilePublished profile, string key)
    {
        var known = LimitKeys.All.Single(k => k.Key == key);
        var stated = profile.Limits.Where(l => known.Covers(l.Key)).ToList();
        return stated.Count switch
        {
            0 => $"`{key}` (not in the baseline)",
            1 => $"`{key}` {ProfileSchema.Words(known.Direction)} {stated[0].Value.Text} {known.Unit} [{Mark(stated[0].Source.Mark)}]",
            _ => $"`{key}` {ProfileSchema.Words(known.Direction)}, {stated.Count} figures in {known.Unit} [{string.Join(", ", stated.Select(l => Mark(l.Source.Mark)).Distinct())}]",
        };
    }

    [Fact]
    public void The_list_of_outside_checks_is_as_the_tests_have_it()
    {
        var checks = typeof(DocsTests).Assembly.GetTypes().SelectMany(t => t.GetMethods())
            .SelectMany(m => m.GetCustomAttributes<OutsideCheckAttribute>().Select(c => (Method: m, Check: c)))
            .OrderBy(c => c.Method.DeclaringType!.FullName, StringComparer.Ordinal).ThenBy(c => c.Method.Name, StringComparer.Ordinal).ThenBy(c => c.Check.What, StringComparer.Ordinal).ToList();
        var text = new StringBuilder("""
            # Checks against the outside

            Generated from the tests that carry `[OutsideCheck]`; a test keeps it so. The mark says how sure the figure or its rule is:
            "published" was seen in a publication, "memory" was not and has to be confirmed against the document before a packet
            rests on it, "common practice" has no document. The arithmetic of an expected value was done outside this code.


            """);
        text.Append(checks.Count).Append(" checks: ").AppendJoin(", ", checks.GroupBy(c => c.Check.Mark).OrderBy(g => g.Key).Select(g => $"{g.Count()} {Mark(g.Key)}")).Append(".\n\n")
            .Append("| what | value | tolerance | source | mark | test |\n|---|---|---|---|---|---|\n");
        foreach (var (method, check) in checks)
        {
            text.Append("| ").Append(Cell(check.What)).Append(" | ").Append(Cell(check.Value)).Append(" | ").Append(Cell(check.Tolerance)).Append(" | ").Append(Cell(check.Source)).Append(" | ")
                .Append(Mark(check.Mark)).Append(" | ").Append(method.DeclaringType!.Name).Append('.').Append(method.Name).Append(" |\n");
        }

        Repository.AssertGenerated(text.ToString(), "docs", "checks.md");
    }

    private static string Title(Traceability.Core.Events.HoldKind hold) => hold switch
    {
        Traceability.Core.Events.HoldKind.Tying => "Before tying",
        Traceability.Core.Events.HoldKind.CloseUp => "Close-up, before the form closes",
        Traceability.Core.Events.HoldKind.Pour => "Pour",
        Traceability.Core.Events.HoldKind.Place => "Place",
        Traceability.Core.Events.HoldKind.Strip => "Strip",
        _ => "Ship",
    };
}
