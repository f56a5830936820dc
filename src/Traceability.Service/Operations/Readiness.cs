using Microsoft.Extensions.Diagnostics.HealthChecks;

namespace Traceability.Service.Operations;

/// <summary>The checks of readiness, run at most once a second however many ask: the address is open to everybody, and the checks ask the database.</summary>
public sealed class Readiness(HealthCheckService checks, TimeProvider clock)
{
    private static readonly TimeSpan Fresh = TimeSpan.FromSeconds(1);

    private readonly SemaphoreSlim _turn = new(1, 1);
    private HealthReport? _report;
    private long _at;

    public async Task<HealthReport> ReportAsync(CancellationToken cancel)
    {
        await _turn.WaitAsync(cancel);
        try
        {
            if (_report is null || clock.GetElapsedTime(_at) > Fresh) (_report, _at) = (await checks.CheckHealthAsync(cancel), clock.GetTimestamp());
            return _report;
        }
        finally
        {
            _turn.Release();
        }
    }
}
