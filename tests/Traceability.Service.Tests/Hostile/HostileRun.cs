using System.Diagnostics;
using System.Globalization;
using System.Text;
using System.Text.Json;

namespace Traceability.Service.Tests.Hostile;

/// <summary>What came of a target's inputs so far.</summary>
internal sealed class Figures
{
    public long Inputs { get; set; }

    public long Refused { get; set; }

    public long Accepted { get; set; }

    public double SlowestMs { get; set; }

    public double HighestMb { get; set; }
}

/// <summary>Where a run is, so that one that broke off goes on from there.</summary>
internal sealed class Standing
{
    public ulong Seed { get; set; }

    public long From { get; set; }

    public long Next { get; set; }

    public long Until { get; set; }

    public long Wrong { get; set; }

    public SortedDictionary<string, Figures> Targets { get; set; } = new(StringComparer.Ordinal);
}

/// <summary>Inputs by their numbers, one after the other, each to the target that its number draws.</summary>
/// <param name="folder">Where wrong inputs are written, and where a run stands.</param>
internal sealed class HostileRun(IReadOnlyList<Target> targets, Standing standing, string folder)
{
    private const int Piece = 500;

    // A thread cannot be ended: after an input without an answer nothing that follows would be judged fairly.
    private static readonly TimeSpan s_hang = TimeSpan.FromSeconds(120);

    private readonly int _shares = targets.Sum(t => t.Share);

    public static string StandingFile(string folder) => Path.Combine(folder, "standing.json");

    /// <summary>Which input is being answered: what ended the program is found by it.</summary>
    public static string NowFile(string folder) => Path.Combine(folder, "now.txt");

    public Standing Standing => standing;

    /// <summary>What is wrong, in words.</summary>
    public List<string> Wrongs { get; } = [];

    /// <param name="enough">Ends the run before its last input.</param>
    public async Task RunAsync(Func<bool> enough)
    {
        Directory.CreateDirectory(folder);
        using var now = File.OpenHandle(NowFile(folder), FileMode.Create, FileAccess.Write, FileShare.Read);
        var hung = false;
        for (; standing.Next < standing.Until && !hung && !enough(); standing.Next++)
        {
            var number = standing.Next;
            if (number % Piece == 0) Save();
            var target = Of(number);
            RandomAccess.Write(now, Encoding.ASCII.GetBytes(string.Create(CultureInfo.InvariantCulture, $"seed {standing.Seed} input {number} {target.Name,-40}\n")), 0);
            hung = !await OneAsync(target, number);
        }

        foreach (var target in targets)
        {
            try
            {
                await target.FinishAsync();
            }
            catch (Exception e) when (e is not OutOfMemoryException)
            {
                Wrong(target, new Attempt(standing.Seed, standing.Next), "at the end: " + e);
            }
        }

        Save();
        now.Dispose();
        File.Delete(NowFile(folder));
    }

    // The first inputs are one of each target; from then on the seed draws by their shares.
    private Target Of(long number)
    {
        if (number < targets.Count) return targets[(int)number];
        var drawn = (int)(RunSeed.Mix(standing.Seed ^ 0x5eed, (ulong)number) % (ulong)_shares);
        foreach (var target in targets)
        {
            if ((drawn -= target.Share) < 0) return target;
        }

        throw new UnreachableException();
    }

    private async Task<bool> OneAsync(Target target, long number)
    {
        if (!standing.Targets.TryGetValue(target.Name, out var figures)) standing.Targets[target.Name] = figures = new Figures();
        var attempt = new Attempt(standing.Seed, number);
        figures.Inputs++;
        try
        {
            var (answer, milliseconds, megabytes) = await TimedAsync(target, attempt);
            if (milliseconds > target.Longest.TotalMilliseconds)
            {
                var again = await TimedAsync(target, attempt = new Attempt(standing.Seed, number));
                milliseconds = Math.Min(milliseconds, again.Milliseconds);
            }

            if (answer.Accepted) figures.Accepted++;
            else figures.Refused++;
            figures.SlowestMs = Math.Max(figures.SlowestMs, milliseconds);
            figures.HighestMb = Math.Max(figures.HighestMb, megabytes);
            if (milliseconds > target.Longest.TotalMilliseconds) Wrong(target, attempt, string.Create(CultureInfo.InvariantCulture, $"it took {milliseconds:0} ms, twice"));
            if (megabytes > target.MostMegabytes) Wrong(target, attempt, string.Create(CultureInfo.InvariantCulture, $"it took {megabytes:0} MB of memory"));
        }
        catch (TimeoutException e)
        {
            Wrong(target, attempt, $"no answer within {s_hang.TotalSeconds:0} s; the run ends here. {e.Message}");
            return false;
        }
        catch (Exception e)
        {
            Wrong(target, attempt, e is WrongAnswerException ? e.Message : e.ToString());
        }

        return true;
    }

    private static async Task<(Answer Answer, double Milliseconds, double Megabytes)> TimedAsync(Target target, Attempt attempt)
    {
        var began = Stopwatch.GetTimestamp();
        var (answer, allocated) = await Task.Run(async () =>
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            var task = target.TryAsync(attempt);
            // Only what was done at once was done by this thread.
            var own = task.IsCompleted ? GC.GetAllocatedBytesForCurrentThread() - before : 0;
            return (await task, own);
        }).WaitAsync(s_hang);
        return (answer, Stopwatch.GetElapsedTime(began).TotalMilliseconds, answer.Megabytes ?? allocated / 1048576.0);
    }

    private void Wrong(Target target, Attempt attempt, string what)
    {
        standing.Wrong++;
        var said = string.Create(CultureInfo.InvariantCulture, $"seed {standing.Seed} input {attempt.Number} ({target.Name}): {what}");
        Wrongs.Add(said);
        if (standing.Wrong > 200) return;
        var place = Path.Combine(folder, "wrong", string.Create(CultureInfo.InvariantCulture, $"{standing.Seed}-{attempt.Number}"));
        Directory.CreateDirectory(place);
        File.WriteAllText(Path.Combine(place, "what.txt"), said + string.Create(CultureInfo.InvariantCulture, $"\nTo repeat it alone: ops/hostile --seed {standing.Seed} --from {attempt.Number} --inputs 1\n"));
        foreach (var (name, bytes) in attempt.Parts) File.WriteAllBytes(Path.Combine(place, new string([.. name.Select(c => char.IsAsciiLetterOrDigit(c) || c is '.' or '-' ? c : '_')]) + ".input"), bytes);
    }

    private void Save()
    {
        var next = StandingFile(folder) + ".next";
        File.WriteAllText(next, JsonSerializer.Serialize(standing));
        File.Move(next, StandingFile(folder), overwrite: true);
    }

    /// <summary>One line of figures for each target, and the sum.</summary>
    public IEnumerable<string> Lines()
    {
        foreach (var (name, f) in standing.Targets)
            yield return string.Create(CultureInfo.InvariantCulture, $"{name,-28} {f.Inputs,9} inputs {f.Refused,9} refused {f.Accepted,8} accepted, slowest {f.SlowestMs,7:0} ms, highest {f.HighestMb,5:0} MB");
        yield return string.Create(CultureInfo.InvariantCulture, $"{standing.Next - standing.From} inputs, {standing.Wrong} wrong");
    }

    /// <summary>Every way in, over a service that runs.</summary>
    /// <param name="most">Memory of the whole process, MB, while the service is asked; other tests in it need theirs.</param>
    public static IReadOnlyList<Target> All(Hosting.PlantHost host, double most = double.MaxValue) =>
        [new FactTarget(), new IntakeTarget(host, most), new SignInTarget(host, most), new ProfileTarget(), new LogTarget(), new PacketTarget(), new WitnessTarget(), new BombTarget()];
}
