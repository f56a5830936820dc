namespace Traceability.Service.Tests.Hostile;

/// <summary>What became of an input that was answered as it should be.</summary>
/// <param name="Megabytes">Memory where the target measured it by itself; else what the thread allocated counts.</param>
internal readonly record struct Answer(bool Accepted, double? Megabytes = null)
{
    public static readonly Answer Refused = new(false), Taken = new(true);
}

/// <summary>An answer that must not be: something accepted that is not right, or refused without words.</summary>
internal sealed class WrongAnswerException(string what) : Exception(what);

/// <summary>One hostile input. All that is random in it follows from the run's seed and its number, so that it can be made again alone.</summary>
internal sealed class Attempt(ulong seed, long number)
{
    public long Number { get; } = number;

    public Random Random { get; } = new(unchecked((int)RunSeed.Mix(seed, (ulong)number)));

    /// <summary>The input's parts, kept until it is answered: a wrong one is written out.</summary>
    public SortedDictionary<string, byte[]> Parts { get; } = new(StringComparer.Ordinal);

    public byte[] Keep(string part, byte[] bytes) => Parts[part] = bytes;

    public string Keep(string part, string text)
    {
        // Half a surrogate pair has no UTF-8 form; which one it was tells the number.
        Parts[part] = System.Text.Encoding.UTF8.GetBytes(text);
        return text;
    }

    public int Below(int end) => Random.Next(end);

    public bool OneIn(int number) => Random.Next(number) == 0;

    public T Of<T>(IReadOnlyList<T> all) => all[Random.Next(all.Count)];

    public static void Require(bool holds, string otherwise)
    {
        if (!holds) throw new WrongAnswerException(otherwise);
    }
}

/// <summary>One way into the system: makes an input, sends it in, and judges the answer.</summary>
internal abstract class Target : IAsyncDisposable
{
    public abstract string Name { get; }

    /// <summary>Inputs of ten thousand.</summary>
    public abstract int Share { get; }

    /// <summary>Longest answer. One that took longer is asked again alone before it counts: the machine may have been busy.</summary>
    public virtual TimeSpan Longest => TimeSpan.FromSeconds(5);

    /// <summary>Most memory of one input, MB.</summary>
    public virtual double MostMegabytes => 256;

    /// <exception cref="WrongAnswerException">The answer must not be so. Any other exception is wrong too.</exception>
    public abstract Task<Answer> TryAsync(Attempt attempt);

    /// <summary>What can only be seen when all inputs were answered.</summary>
    public virtual Task FinishAsync() => Task.CompletedTask;

    public virtual ValueTask DisposeAsync() => ValueTask.CompletedTask;
}
