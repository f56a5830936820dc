using System.Collections.Concurrent;
using System.Diagnostics;
using Traceability.Service.Operations;

namespace Traceability.Service.Tests.Hosting;

/// <summary>The spans of one piece of work: of this test alone, whatever runs beside it.</summary>
internal sealed class Spans : IDisposable
{
    private readonly ConcurrentQueue<Activity> _ended = [];
    private readonly ActivityListener _listener;
    private readonly Activity _own = new("test");

    public Spans()
    {
        _listener = new()
        {
            ShouldListenTo = _ => true,
            Sample = (ref ActivityCreationOptions<ActivityContext> _) => ActivitySamplingResult.AllDataAndRecorded,
            ActivityStopped = _ended.Enqueue,
        };
        ActivitySource.AddActivityListener(_listener);
    }

    public async Task<T> TracedAsync<T>(Func<Task<T>> work)
    {
        _own.Start();
        try
        {
            return await work();
        }
        finally
        {
            _own.Stop();
        }
    }

    public IReadOnlyList<Activity> Named(string name) => [.. _ended.Where(a => a.TraceId == _own.TraceId && a.OperationName == name)];

    /// <summary>That something was laid out, and nothing of it while a writing transaction was open.</summary>
    public void LaidOutOutside()
    {
        var (laid, written) = (Named(Telemetry.LayingOut), Named("write"));
        Assert.NotEmpty(laid);
        Assert.NotEmpty(written);
        Assert.All(laid, l => Assert.All(written, w => Assert.True(l.StartTimeUtc + l.Duration <= w.StartTimeUtc || l.StartTimeUtc >= w.StartTimeUtc + w.Duration, "laid out while everybody waits")));
    }

    public void Dispose() => _listener.Dispose();
}
