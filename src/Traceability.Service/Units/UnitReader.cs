using Traceability.Core.Dossiers;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;

namespace Traceability.Service.Units;

/// <summary>A unit judged at this moment, and as of which log position.</summary>
public sealed record UnitNow(Dossier Dossier, UnitFile File, Judgement Judgement, DateTimeOffset At);

/// <summary>Judges a unit now, on fresh records. What every page, packet and gate reads; never a view.</summary>
public sealed class UnitReader(DossierStore dossiers, TimeProvider clock)
{
    public async Task<UnitNow> ReadAsync(Subject unit, long? position, CancellationToken cancel)
    {
        var dossier = await dossiers.LoadAsync(unit, position, cancel);
        var file = Assemble.Unit(dossier);
        var at = clock.GetUtcNow();
        return new(dossier, file, Judge.Unit(file, at), at);
    }
}
