using System.Diagnostics;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Hostile;

/// <summary>A minute of what ops/hostile does for hours, of this run's seed; and that it tells what is wrong.</summary>
public sealed class Hostile_inputs
{
    private static readonly TimeSpan s_minute = TimeSpan.FromSeconds(60);

    [Fact]
    public async Task For_a_minute_every_hostile_input_is_answered_and_none_wrongly()
    {
        var folder = Directory.CreateTempSubdirectory("hostile-run-").FullName;
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var targets = HostileRun.All(host);
        var run = new HostileRun(targets, new Standing { Seed = RunSeed.Value, Until = long.MaxValue }, folder);
        var began = Stopwatch.GetTimestamp();
        await run.RunAsync(() => Stopwatch.GetElapsedTime(began) > s_minute);
        foreach (var target in targets) await target.DisposeAsync();
        foreach (var line in run.Lines()) Console.WriteLine(line);

        Assert.True(run.Wrongs.Count == 0, $"{string.Join('\n', run.Wrongs.Take(5))}\nIts bytes are in {folder}/wrong; {RunSeed.HowToRepeat}");
        Assert.Equal(targets.Select(t => t.Name).Order(StringComparer.Ordinal), run.Standing.Targets.Keys);
        // What refuses everything, or takes everything, tells nothing of what is right.
        Assert.All(run.Standing.Targets.Where(t => t.Value.Inputs > 100), t => Assert.True(t.Value is { Accepted: > 0, Refused: > 0 }, t.Key));
        Directory.Delete(folder, recursive: true);
    }

    private sealed class Invented(Func<Attempt, Answer> answer, string name = "invented", double megabytes = 256) : Target
    {
        public override string Name => name;

        public override int Share => 1;

        public override double MostMegabytes => megabytes;

        public override TimeSpan Longest => TimeSpan.FromMilliseconds(400);

        public override Task<Answer> TryAsync(Attempt attempt) => Task.FromResult(answer(attempt));
    }

    private static async Task<HostileRun> RunAsync(string folder, Standing standing, params Target[] targets)
    {
        var run = new HostileRun(targets, standing, folder);
        await run.RunAsync(() => false);
        return run;
    }

    [Fact]
    public async Task What_throws_is_slow_or_takes_too_much_memory_is_wrong_and_is_written_out_with_its_number()
    {
        var folder = Directory.CreateTempSubdirectory("hostile-run-").FullName;
        var run = await RunAsync(folder, new Standing { Seed = 7, From = 100, Next = 100, Until = 160 }, new Invented(a =>
        {
            a.Keep("input", [(byte)a.Number]);
            switch (a.Number)
            {
                case 110: throw new InvalidOperationException("broken");
                case 120: Thread.Sleep(500); break;
                case 130: return new Answer(true, 300);
                case 140: throw new WrongAnswerException("taken");
            }

            return Answer.Refused;
        }));

        Assert.Equal(["110", "120", "130", "140"], run.Wrongs.Select(w => w.Split(' ')[3]));
        Assert.Equal([140], await File.ReadAllBytesAsync(Path.Combine(folder, "wrong", "7-140", "input.input")));
        Assert.Contains("ops/hostile --seed 7 --from 140 --inputs 1", await File.ReadAllTextAsync(Path.Combine(folder, "wrong", "7-140", "what.txt")), StringComparison.Ordinal);
        Assert.Equal("60 inputs, 4 wrong", run.Lines().Last());
        Directory.Delete(folder, recursive: true);
    }

    [Fact]
    public async Task An_input_follows_from_seed_and_number_alone_wherever_a_run_was_taken_up()
    {
        var folder = Directory.CreateTempSubdirectory("hostile-run-").FullName;
        async Task<Dictionary<long, string>> Made(ulong seed, long from)
        {
            var made = new Dictionary<long, string>();
            Answer Note(Attempt a, string by)
            {
                made[a.Number] = by + Convert.ToHexString(FactTarget.Make(a));
                return Answer.Refused;
            }

            await RunAsync(folder, new Standing { Seed = seed, Next = from, Until = 300 }, new Invented(a => Note(a, "one")), new Invented(a => Note(a, "two"), "other"));
            return made;
        }

        var whole = await Made(3, 0);
        Assert.Equal(whole.Where(m => m.Key >= 140), await Made(3, 140));
        Assert.InRange(whole.Values.Intersect((await Made(4, 0)).Values).Count(), 0, 60);
        Assert.InRange(whole.Values.Count(v => v.StartsWith("one", StringComparison.Ordinal)), 80, 220);
        Directory.Delete(folder, recursive: true);
    }
}
