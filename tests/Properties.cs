using System.Diagnostics;
using System.Globalization;
using System.Runtime.CompilerServices;
using CsCheck;

namespace Traceability;

/// <summary>
/// Properties over generated cases. These stand nearer to the tests than the library's own Sample, whose cases follow from the clock:
/// here each case follows from <see cref="RunSeed"/>, the test and the number of the case, so that a run that passed can be repeated as
/// exactly as one that failed. A case that fails is handed to the library, which makes it smaller and prints it with the library's own seed of
/// it; CsCheck_Seed begins with that case, as it always does.
/// </summary>
internal static class Properties
{
    private const int Iterations = 100;

    /// <summary>Cases that are the same in every run: for what a property must have seen.</summary>
    public static IEnumerable<T> Fixed<T>(this Gen<T> gen, int count) => Enumerable.Range(0, count).Select(n => gen.Generate(new PCG(7, RunSeed.Mix(7, (ulong)n)), null, out _));

    public static void Sample<T>(this Gen<T> gen, Action<T> assert, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "")
    {
        if (Environment.GetEnvironmentVariable("CsCheck_Seed") is { Length: > 0 })
        {
            Check.Sample(gen, assert, iter: iter, threads: threads);
            return;
        }

        var stream = RunSeed.Hash(Path.GetFileName(file) + "/" + member);
        PCG Start(long n) => new(stream, RunSeed.Mix(RunSeed.Value, (ulong)n));
        var failed = long.MaxValue;
        Exception? cause = null;
        var gate = new Lock();
        Parallel.For(0, iter, new ParallelOptions { MaxDegreeOfParallelism = threads }, (n, state) =>
        {
            try
            {
                assert(gen.Generate(Start(n), null, out _));
            }
            catch (Exception e) when (e is not OutOfMemoryException)
            {
                lock (gate)
                {
                    if (n < failed) (failed, cause) = (n, e);
                }

                // Those before it still run, so that the first that fails is named, whoever was fastest.
                state.Break();
            }
        });
        if (cause is null) return;
        var where = string.Create(CultureInfo.InvariantCulture, $"Case {failed} of {iter} failed; {RunSeed.HowToRepeat}");
        try
        {
            Check.Sample(gen, assert, seed: Start(failed).ToString(), iter: Math.Max(iter, 100), threads: threads);
        }
        catch (CsCheckException e)
        {
            throw new CsCheckException($"{where}\n{e.Message}", e);
        }

        throw new CsCheckException($"{where}; alone it passes, so something beside the case decides", cause);
    }

    public static void Sample<T>(this Gen<T> gen, Func<T, bool> holds, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "") =>
        gen.Sample(x => { if (!holds(x)) throw new UnreachableException("the property does not hold"); }, iter, threads, file, member);

    public static void Sample<T1, T2>(this Gen<(T1, T2)> gen, Action<T1, T2> assert, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "") =>
        gen.Sample(x => assert(x.Item1, x.Item2), iter, threads, file, member);

    public static void Sample<T1, T2>(this Gen<(T1, T2)> gen, Func<T1, T2, bool> holds, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "") =>
        gen.Sample(x => holds(x.Item1, x.Item2), iter, threads, file, member);

    public static void Sample<T1, T2, T3>(this Gen<(T1, T2, T3)> gen, Action<T1, T2, T3> assert, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "") =>
        gen.Sample(x => assert(x.Item1, x.Item2, x.Item3), iter, threads, file, member);

    public static void Sample<T1, T2, T3>(this Gen<(T1, T2, T3)> gen, Func<T1, T2, T3, bool> holds, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "") =>
        gen.Sample(x => holds(x.Item1, x.Item2, x.Item3), iter, threads, file, member);

    public static void Sample<T1, T2, T3, T4>(this Gen<(T1, T2, T3, T4)> gen, Action<T1, T2, T3, T4> assert, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "") =>
        gen.Sample(x => assert(x.Item1, x.Item2, x.Item3, x.Item4), iter, threads, file, member);

    public static void Sample<T1, T2, T3, T4>(this Gen<(T1, T2, T3, T4)> gen, Func<T1, T2, T3, T4, bool> holds, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "") =>
        gen.Sample(x => holds(x.Item1, x.Item2, x.Item3, x.Item4), iter, threads, file, member);

    public static void Sample<T1, T2, T3, T4, T5>(this Gen<(T1, T2, T3, T4, T5)> gen, Action<T1, T2, T3, T4, T5> assert, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "") =>
        gen.Sample(x => assert(x.Item1, x.Item2, x.Item3, x.Item4, x.Item5), iter, threads, file, member);

    public static void Sample<T1, T2, T3, T4, T5>(this Gen<(T1, T2, T3, T4, T5)> gen, Func<T1, T2, T3, T4, T5, bool> holds, long iter = Iterations, int threads = -1, [CallerFilePath] string file = "", [CallerMemberName] string member = "") =>
        gen.Sample(x => holds(x.Item1, x.Item2, x.Item3, x.Item4, x.Item5), iter, threads, file, member);
}
