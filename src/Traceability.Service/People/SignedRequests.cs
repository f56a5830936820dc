using System.Collections.Concurrent;

namespace Traceability.Service.People;

/// <summary>
/// Signed requests of the last minutes, so that a captured one is not answered a second time. In the memory of one process;
/// after <see cref="Holds"/> the moment inside the signature refuses it anyway.
/// </summary>
public sealed class SignedRequests(TimeProvider clock)
{
    /// <summary>How far a signed request's moment may be from the service's clock. Our own choice.</summary>
    public static readonly TimeSpan Holds = TimeSpan.FromMinutes(5);

    private readonly ConcurrentDictionary<string, DateTimeOffset> _seen = new(StringComparer.Ordinal);
    private long _sweptTicks;

    /// <summary>Whether the moment is near enough to the service's clock.</summary>
    public bool IsTimely(long unixMilliseconds)
    {
        var now = clock.GetUtcNow().ToUnixTimeMilliseconds();
        return unixMilliseconds >= now - (long)Holds.TotalMilliseconds && unixMilliseconds <= now + (long)Holds.TotalMilliseconds;
    }

    /// <summary>Whether what was signed comes for the first time. What is signed is remembered, not the signature, which has more than one valid form.</summary>
    public bool IsFirst(string device, ReadOnlySpan<byte> sha256)
    {
        var now = clock.GetUtcNow();
        Sweep(now);
        return _seen.TryAdd(device + " " + Convert.ToHexString(sha256), now);
    }

    private void Sweep(DateTimeOffset now)
    {
        var last = Interlocked.Read(ref _sweptTicks);
        if (now.UtcTicks - last < Holds.Ticks || Interlocked.CompareExchange(ref _sweptTicks, now.UtcTicks, last) != last) return;
        foreach (var (key, at) in _seen)
        {
            if (now - at > 2 * Holds) _seen.TryRemove(key, out _);
        }
    }
}
