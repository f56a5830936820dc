using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using Traceability.Core.People;
using Traceability.Core.Records;
using Traceability.Core.Tests;
using Traceability.Service.Intake;
using Traceability.Service.People;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;
using FactSchema = Traceability.Core.Events.FactSchema;

namespace Traceability.Service.Tests.Intake;

/// <summary>docs/integrate.md, its commands run as they stand: whoever follows the page gets the answers it shows.</summary>
public sealed partial class The_page_for_senders : IDisposable
{
    private const string Begin = "-- step --", Settings = "-- settings --";

    // A folder like that of the repository, so that the commands leave nothing in it.
    private readonly string _folder = Directory.CreateTempSubdirectory("trace-page-").FullName;

    public The_page_for_senders()
    {
        Directory.CreateDirectory(Path.Combine(_folder, ".data", "first"));
        Directory.CreateSymbolicLink(Path.Combine(_folder, "docs"), Repository.Path("docs"));
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task Its_commands_run_as_they_stand_and_are_answered_as_it_says()
    {
        var page = await File.ReadAllTextAsync(Repository.Path("docs", "integrate.md"));
        var steps = Step().Matches(page).Select(m => (Command: m.Groups["command"].Value, Answer: m.Groups["answer"] is { Success: true } answer ? answer.Value : null)).ToList();
        // Servers and the service itself are the test's own; everything before the start makes files and settings.
        var start = steps.FindIndex(s => s.Command.Contains("dotnet run", StringComparison.Ordinal));
        var before = steps.Take(start).Where(s => !s.Command.Contains("ops/servers", StringComparison.Ordinal)).ToList();
        var after = steps.Skip(start + 1).ToList();
        Assert.Equal(2, before.Count);
        Assert.True(after.Count > 10 && after.TrueForAll(s => s.Answer is not null), "each command after the start has its answer on the page");

        var prepared = await BashAsync(string.Concat(before.Select(s => s.Command)) + $"echo '{Settings}'\nenv -0\n", new() { ["TRACE_TEST_POSTGRES"] = "the test's own" });
        var environment = prepared[(prepared.IndexOf(Settings, StringComparison.Ordinal) + Settings.Length + 1)..].Split('\0', StringSplitOptions.RemoveEmptyEntries)
            .Select(l => l.Split('=', 2)).Where(l => l.Length == 2).ToDictionary(l => l[0], l => l[1], StringComparer.Ordinal);
        var settings = environment.Where(e => e.Key.Contains("__", StringComparison.Ordinal) && !e.Key.StartsWith('_')).ToList();
        Assert.Contains(settings, s => s.Key == "Plant__TimeZone");
        Assert.Contains(settings, s => s.Key == "ConnectionStrings__Postgres" && s.Value == "the test's own");
        var operations = await File.ReadAllTextAsync(Repository.Path("docs", "operations.md"));
        Assert.All(settings, s => Assert.Contains($"`{s.Key}`", operations, StringComparison.Ordinal));

        await using var host = await PlantHost.StartAsync([.. settings.Where(s => s.Key != "ConnectionStrings__Postgres").Select(s => $"--{s.Key.Replace("__", ":", StringComparison.Ordinal)}={s.Value}")]);
        environment["SERVICE"] = host.Address.ToString().TrimEnd('/');
        var answers = (await BashAsync(string.Concat(after.Select(s => $"echo; echo '{Begin}'\n{s.Command}")), environment)).Split(Begin + "\n")[1..];

        Assert.Equal(after.Count, answers.Length);
        for (var i = 0; i < after.Count; i++)
            Assert.True(Steady(after[i].Answer!) == Steady(answers[i]), $"docs/integrate.md shows another answer than the service gives.\n{after[i].Command}\nshown: {Steady(after[i].Answer!)}\ngiven: {Steady(answers[i])}");
        // What the page sent is what counts: three readings and one act.
        Assert.Equal(4, await host.ScalarAsync("select count(*) from trace.record where type in ('form.oiled.v1', 'unit.scheduled.v1')"));
    }

    [Fact]
    public async Task Every_status_every_member_of_the_envelope_and_every_limit_stands_on_it()
    {
        var page = await File.ReadAllTextAsync(Repository.Path("docs", "integrate.md"));
        Assert.All(Enum.GetNames<EntryStatus>(), status => Assert.Contains($"\n| `{status.ToLowerInvariant()}` |", page, StringComparison.Ordinal));
        var members = FactSchema.Envelope()["properties"]!.AsObject().Select(p => p.Key).ToList();
        Assert.All(members, member => Assert.Matches($@"\n\|[^|]*`{member}`[^|]*\|", page));
        Assert.All(
            new[]
            {
                Limit($"1 to {IntakeEndpoints.LargestBatch} facts, {IntakeEndpoints.LargestRequest:N0} bytes"), Limit($"at most {CloudEvent.LargestBytes:N0} bytes and is nested at most {CloudEvent.DeepestNesting} deep"),
                Limit($"1 to {CloudEvent.LongestAttribute} characters"), Limit($"{CloudEvent.LargestOffsetMs:N0} either way"), Limit($"more than {FactIntake.Ahead.TotalMinutes:0} minutes ahead"),
                Limit($"for {SignOnTokens.Holds.TotalHours:0} hours"), Limit($"{SignOnTokens.Most} at most"), Limit($"within {SignedRequests.Holds.TotalMinutes:0} minutes"),
                Limit($"good to {Moment.SyncedUncertainty.TotalSeconds:0} seconds, without it to {Moment.UnsyncedUncertainty.TotalMinutes:0} minutes"), Limit($"{DeviceLimits.Waiting} requests wait already, or {DeviceLimits.Facts:N0} facts and {DeviceLimits.FactsPerSecond} a second"), Limit($"{Pins.Shortest} to {Pins.Longest} digits"),
            },
            limit => Assert.Contains(limit, page.ReplaceLineEndings(" "), StringComparison.Ordinal));
    }

    private static string Limit(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    // Moments, secrets and what follows from the newest rules differ from run to run; the rest must not.
    private static string Steady(string answer) => Sealed().Replace(Secret().Replace(Moments().Replace(answer.Trim(), "MOMENT"), "\"$1\":\"...\""), "\"sealed\":...");

    private async Task<string> BashAsync(string script, Dictionary<string, string> environment)
    {
        await File.WriteAllTextAsync(Path.Combine(_folder, "page.sh"), script, new UTF8Encoding(false));
        var (exit, output, error) = await Tool.RunAsync("bash", _folder, environment, "-eu", "-o", "pipefail", "page.sh");
        Assert.True(exit == 0, $"a command of docs/integrate.md failed: {error}\n{output}");
        return output;
    }

    [GeneratedRegex(@"^```sh\n(?<command>.*?)^```\n(\n^```(json|text)\n(?<answer>.*?)^```$)?", RegexOptions.Multiline | RegexOptions.Singleline | RegexOptions.ExplicitCapture)]
    private static partial Regex Step();

    [GeneratedRegex(@"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d+(Z|(\+|\\u002B)00:00)", RegexOptions.ExplicitCapture)]
    private static partial Regex Moments();

    [GeneratedRegex("\"(traceId|token|known|judgement|rules)\":\"[^\"]*\"")]
    private static partial Regex Secret();

    [GeneratedRegex("\"sealed\":(true|false)", RegexOptions.ExplicitCapture)]
    private static partial Regex Sealed();
}
