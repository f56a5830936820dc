using System.Globalization;
using System.Text;

namespace Traceability;

/// <summary>
/// The one seed of a test run: whatever is random in a test follows from it. Taken from the environment variable TRACE_SEED, else drawn
/// once; ops/test prints it, and every failure of a random test names it.
/// </summary>
internal static class RunSeed
{
    public const string Variable = "TRACE_SEED";

    public static ulong Value { get; } = Read();

    public static string HowToRepeat => string.Create(CultureInfo.InvariantCulture, $"to repeat this run: {Variable}={Value}");

    /// <summary>Randomness of one test, apart from every other's.</summary>
    public static Random Random(string what) => new(unchecked((int)Mix(Value, Hash(what))));

    public static ulong Mix(ulong seed, ulong n)
    {
        // SplitMix64: neighbouring numbers give unrelated ones.
        var z = seed + (n + 1) * 0x9E3779B97F4A7C15UL;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
        return z ^ (z >> 31);
    }

    /// <summary>FNV-1a: the same in every process, which string.GetHashCode is not.</summary>
    public static uint Hash(string text)
    {
        var hash = 2166136261U;
        foreach (var b in Encoding.UTF8.GetBytes(text)) hash = (hash ^ b) * 16777619U;
        return hash;
    }

    private static ulong Read()
    {
        var given = Environment.GetEnvironmentVariable(Variable);
        if (!string.IsNullOrEmpty(given))
        {
            return ulong.TryParse(given, NumberStyles.None, CultureInfo.InvariantCulture, out var seed) ? seed
                : throw new InvalidOperationException($"{Variable} is '{given}'; give it a whole number, zero or more, or leave it out to have one drawn");
        }

        var drawn = (ulong)System.Random.Shared.NextInt64(1_000_000_000);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{Variable}={drawn}"));
        return drawn;
    }
}
