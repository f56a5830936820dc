namespace Traceability.Service.Operations;

/// <summary>
/// A clock that can be set, for demonstrations only. Every record made under it says so in its assurance.
/// It runs on at normal speed from where it was set.
/// </summary>
public sealed class ScenarioClock : TimeProvider
{
    private long _offsetTicks;

    public override DateTimeOffset GetUtcNow() => System.GetUtcNow() + TimeSpan.FromTicks(Interlocked.Read(ref _offsetTicks));

    public void Set(DateTimeOffset now) => Interlocked.Exchange(ref _offsetTicks, (now - System.GetUtcNow()).Ticks);
}
